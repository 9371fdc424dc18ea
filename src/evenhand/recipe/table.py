"""The table of settings: each is listed once, here or in the three parts that this one goes on.

From it are made the recipe with its checks and its TOML, what a section may set, the options of
the commands and their help pages, the fields of the listening page and the reference in
docs/files.md. Whoever adds a setting adds it to one part, and the code that uses it.

Nothing here imports NumPy, so that help pages come at once.
"""

from dataclasses import dataclass

from evenhand.recipe.checks import TABLES as OF_TABLES
from evenhand.recipe.checks import Check, choice, meter_name, number, switch
from evenhand.recipe.modes import AUTO, LONGEST_LATENCY, OFF, ON
from evenhand.recipe.setting import PULSE, SECTION, Setting, setting, settings_of
from evenhand.recipe.table_song import InSong


def _modes() -> tuple[str, ...]:
    from evenhand.pulse import FIT_MODES

    return (OFF, *FIT_MODES)


@dataclass(frozen=True)
class SettingTable(InSong):
    """All settings; here those of the fit."""

    fit: str = setting(
        OFF,
        choice(_modes),
        PULSE,
        "First lay bars and beats where they were played: `auto`, `steady` or `follow`.",
        usual=True,
        switches=(
            ("fit", AUTO, "First lay bars and beats where they were played (see fit)."),
            ("steady", "steady", "The take keeps to one tempo."),
            ("follow", "follow", "The tempo wanders or steps."),
        ),
    )
    tempo_as_filed: str = setting(
        OFF,
        switch(),
        PULSE,
        "`on`: tempo and place of the bars are right as the file has them, whatever the hits say.",
        more="Otherwise nothing moves in a take whose hits have another tempo, and one that lies "
        "beside its lines as a whole is judged against lines moved by as much.",
        metavar="on|off",
        looks=True,
        switches=(("tempo_as_filed", ON, "Bars and beats are right as the file has them."),),
    )
    smooth: float = setting(
        1.0,
        number(0.25, 64),
        PULSE,
        "Over how many bars a tempo that wanders is smoothed.",
        unit="bars",
        needs="fit",
    )
    near: float | None = setting(
        None,
        number(36, 320, optional=True),
        PULSE,
        "About how fast the take is, if known.",
        unit="bpm",
        unset="found",
        needs="fit",
    )
    meter: str | None = setting(
        None,
        meter_name(),
        PULSE,
        "The meter, if known.",
        metavar="N/N",
        unset="found: 4/4, 3/4, 5/4 or 6/8",
        needs="fit",
    )
    first_beat: float | None = setting(
        None,
        number(-LONGEST_LATENCY, optional=True),
        PULSE,
        "Where the first beat of a bar lies, if known.",
        unit="ms",
        unset="found",
        needs="fit",
    )


#: Every setting by name.
SETTINGS: dict[str, Setting] = settings_of(SettingTable)

#: What a section may set, with its checks.
OF_A_SECTION: dict[str, Check] = {
    name: one.check for name, one in SETTINGS.items() if one.where == SECTION
}

#: What is given as stretches of the take.
STRETCHES = ("hold", "fill", "groove")

#: What a recipe has any number of, written as tables behind the rest: sections first.
TABLES: tuple[str, ...] = (
    "section",
    *(
        name
        for name, one in SETTINGS.items()
        if name in STRETCHES or (name != "section" and one.check.kind == OF_TABLES)
    ),
)
