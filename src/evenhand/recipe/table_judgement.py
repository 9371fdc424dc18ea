"""The table of settings, second part: what is feel, what is ornament, what the hand decides."""

from dataclasses import dataclass
from typing import Any

from evenhand.recipe.checks import choice, number, switch, tables, texts
from evenhand.recipe.given_nudges import Nudge, read_nudge
from evenhand.recipe.modes import (
    CARRIES,
    FILL_MODES,
    LANDINGS,
    OFF,
    ON,
    PLANS,
    SPAN_COST,
    SYNCOPATIONS,
)
from evenhand.recipe.places import SectionSettings, read_hold, read_section
from evenhand.recipe.setting import MOVES, NONE, SECTION, SECTIONS, setting
from evenhand.recipe.table_basics import Basics


def _section(name: str, value: Any) -> SectionSettings:
    from evenhand.recipe.table import OF_A_SECTION

    return read_section(name, value, OF_A_SECTION)


@dataclass(frozen=True)
class Judgement(Basics):
    """Settings of leans, fills, ornaments and spans; sections and nudges."""

    lean: float = setting(
        100.0,
        number(0, 100),
        MOVES,
        "How much of a section's own push or drag stays: `0` pulls to the line.",
        more="So does the drift around it, where what stands out is moved.",
        unit="percent",
        where=SECTION,
        usual=True,
    )
    habit: float = setting(
        100.0,
        number(0, 100),
        MOVES,
        "How much of where a piece usually lies at its place in the bar stays.",
        more="Where window or reach are given, or spans wanted, the habit is not asked.",
        unit="percent",
        where=SECTION,
    )
    most: float | str = setting(
        60.0,
        number(0, word=OFF),
        MOVES,
        "No stroke is moved further than this: it is left and flagged; `off`: any is moved.",
        more="Where window or reach are given, or spans wanted, any is moved.",
        unit="ms",
        where=SECTION,
    )
    notice: float = setting(
        50.0,
        number(0, 100),
        MOVES,
        "What stands out: from `0`, what can just be noticed, to `100`, what is plainly heard.",
        more="Where window or reach are given, or spans wanted, the window decides.",
        unit="percent",
        where=SECTION,
    )
    carry: str = setting(
        CARRIES[0],
        choice(CARRIES),
        MOVES,
        "`limbs`: a limb that slipped alone moves alone; `together`: what is struck with a stroke "
        "goes with it.",
        metavar="HOW",
        where=SECTION,
    )
    for_audio: str = setting(
        OFF,
        switch(),
        MOVES,
        "`on`: what audio can follow (`evenhand conform`): all limbs move together, and hits that "
        "are too close to be cut apart by one amount.",
        more="Stronger than `carry`, in the take and in its sections.",
        metavar="on|off",
        switches=(
            ("for_audio", ON, "Move only what the microphones of the take can follow (conform)."),
        ),
    )
    lean_follow: float = setting(
        0.0,
        number(0, 1000),
        MOVES,
        "Let the lean drift inside a section: bars on each side that count; `0` for not at all.",
        unit="bars",
        where=SECTION,
    )
    fills: str = setting(
        FILL_MODES[0],
        choice(FILL_MODES),
        MOVES,
        "`loose`: only the ends of a fill are anchors; `tight`: like anything else; `as-played`: "
        "held.",
        more="The ends are the stroke on the way in and the landing.",
        metavar="HOW",
        where=SECTION,
        looks=True,
    )
    fill_landing: str = setting(
        LANDINGS[0],
        choice(LANDINGS),
        MOVES,
        "The stroke that a fill lands on: `tight`, like others, or `as-played`.",
        metavar="HOW",
        where=SECTION,
        looks=True,
    )
    fill: tuple[str, ...] = setting(
        (),
        texts(read_hold, keep_text=True, least=0),
        MOVES,
        "Is a fill, from bar:beat to bar:beat, or whole bars such as `8`, whatever it looks like.",
        more="The groove is back on the beat behind it. What a fill is treated like is up to "
        'fills. In a recipe also tables `[[fill]]` with `at = "8:1-8:4"`.',
        metavar="A-B",
        unset="found",
        looks=True,
    )
    groove: tuple[str, ...] = setting(
        (),
        texts(read_hold, keep_text=True, least=0),
        MOVES,
        "Is groove and no fill, from bar:beat to bar:beat, or whole bars.",
        more='In a recipe also tables `[[groove]]` with `at = "8:1-8:4"`.',
        metavar="A-B",
        unset="found",
        looks=True,
    )
    ornaments: str = setting(
        ON,
        switch(),
        MOVES,
        "Graces move rigidly with their main hit, rolls are carried.",
        more="`off`: they are looked at like other hits.",
        metavar="on|off",
        where=SECTION,
        looks=True,
    )
    plan: str = setting(
        PLANS[0],
        choice(PLANS),
        MOVES,
        "`hits`: each stroke by itself; `spans`: strokes that err alike together, into their "
        "windows.",
        more="And no further: strength does not thin that out, only 0 leaves them.",
        metavar="HOW",
        where=SECTION,
    )
    span_cost: float = setting(
        SPAN_COST,
        number(0),
        MOVES,
        "With spans: how much movement a span must save.",
        unit="ms",
        where=SECTION,
    )
    syncopation: str = setting(
        SYNCOPATIONS[0],
        choice(SYNCOPATIONS),
        MOVES,
        "Strokes that stand on a line of the other subdivision on purpose: `stay`, `move`, or "
        "`auto`: stay unless the grid is given.",
        metavar="HOW",
        where=SECTION,
    )
    section: tuple[SectionSettings, ...] = setting(
        (),
        tables(_section),
        SECTIONS,
        "Sections with settings of their own: tables `[[section]]` with a `name` or `bars`.",
        unset=NONE,
    )
    nudge: tuple[Nudge, ...] = setting(
        (),
        tables(read_nudge),
        MOVES,
        'What the hand puts elsewhere: tables `[[nudge]]` with `at = "33:1"` (and, if you like, '
        '`piece = "kick"`) or `hit = 412`, and `ms = -6`.',
        more="The limb of the hit goes alone; with `together = true` all go. A hit must be there "
        "within a thirty-second.",
        unset=NONE,
    )
