"""The table of settings, first part: the grid, the dials, the kit, where the take is held."""

from dataclasses import dataclass

from evenhand.recipe.checks import choice, grid_name, kit_name, number, pieces, texts, whole
from evenhand.recipe.modes import ANCHORS, AUTO, LONGEST_LATENCY, ROLES
from evenhand.recipe.places import read_hold
from evenhand.recipe.setting import KIT, MOVES, NONE, OUTPUT, PULSE, SECTION, SECTIONS, setting


def _sources() -> tuple[str, ...]:
    from evenhand.sections import SECTION_SOURCES

    return SECTION_SOURCES


def _pieces(text: str) -> tuple[str, ...]:
    from evenhand.kit import parse_pieces

    return parse_pieces(text)


@dataclass(frozen=True)
class Basics:
    """Settings of the grid, the dials, the kit and the holds."""

    grid: str = setting(
        AUTO,
        grid_name(),
        PULSE,
        "`1/4`, `1/8`, `1/16`, `1/32`, with `T` for triplets, `1/16Q` and `1/16S` for five and "
        "seven in a quarter; `auto`: the coarsest that explains the hits, with its swing, for each "
        "section.",
        metavar="GRID",
        where=SECTION,
        usual=True,
        looks=True,
    )
    sections: str = setting(
        AUTO,
        choice(_sources),
        SECTIONS,
        "Where sections come from: `markers` (in the file), `none`, or `auto`: markers if there "
        "are any, otherwise found.",
        more="A fixed grid is the same in all.",
        metavar="FROM",
        looks=True,
    )
    swing: float = setting(
        50.0,
        number(20, 80),
        PULSE,
        "Where the second line of a pair stands: `50` straight, `66.7` triplet.",
        more="With the grid `auto`, `50` means that it is found too.",
        unit="percent",
        where=SECTION,
        looks=True,
    )
    window: float | str = setting(
        AUTO,
        number(0, word=AUTO),
        MOVES,
        "Strokes this near to their target stay; `auto`: all that does not stand out for this "
        "drummer.",
        more="With a reach or with spans `auto` is what is just noticed, 6 ms or 2.5 % of the "
        "beat, whichever is more (Friberg & Sundberg 1995).",
        unit="ms",
        where=SECTION,
        usual=True,
        looks=True,
    )
    strength: float = setting(
        75.0,
        number(0, 100),
        MOVES,
        "How much of its deviation a moved stroke loses.",
        more="Of its excess, to be exact: of what is beyond the lean that it keeps.",
        unit="percent",
        where=SECTION,
        usual=True,
    )
    reach: float | str = setting(
        AUTO,
        number(0, 100, word=AUTO),
        MOVES,
        "How far from a line a stroke may be and still belong to it, of the gap between lines; "
        "`auto`: it belongs to the line that explains it best.",
        more="That is told by what is usually struck there. With a window or with spans `auto` is "
        "40.",
        unit="percent",
        where=SECTION,
        looks=True,
    )
    together: float = setting(
        20.0,
        number(0),
        MOVES,
        "Anchor hits no further apart are one stroke.",
        unit="ms",
        where=SECTION,
        looks=True,
    )
    latency: float | str = setting(
        0.0,
        number(-LONGEST_LATENCY, LONGEST_LATENCY, word=AUTO),
        PULSE,
        "How late the recording chain wrote every hit; taken out first. `auto`: the lean of the "
        "whole take.",
        more="That lean can as well be feel.",
        unit="ms",
        looks=True,
    )
    ghost_below: int | str = setting(
        AUTO,
        whole(1, 128, word=AUTO),
        KIT,
        "Snare hits softer than this are ghosts, or `auto`.",
        unit="velocity",
        where=SECTION,
        looks=True,
    )
    anchor: tuple[str, ...] = setting(
        ANCHORS,
        pieces(ANCHORS, _pieces),
        KIT,
        "A piece whose hits are anchors; `toms` for all toms; `+toms` besides those by default.",
        metavar="PIECE",
        where=SECTION,
        looks=True,
    )
    roles: str = setting(
        ROLES[0],
        choice(ROLES),
        KIT,
        "`auto`: roles by what a hit does, where what stands out is moved; `pieces`: by its piece.",
        more="So a snare that ticks keeps time, soft kicks are ghosts, kick and snare that comment "
        "beside a ride are carried, and a groove on the toms is a groove. Anchors that are given "
        "are anchors all the same.",
        metavar="HOW",
        where=SECTION,
        looks=True,
    )
    kit: str = setting(
        "ekit",
        kit_name(),
        KIT,
        "`gm`, `ekit` or a kit file (TOML).",
        more="A kit file is looked for beside the recipe that names it.",
        metavar="MAP",
        usual=True,
        looks=True,
    )
    channel: int | None = setting(
        None,
        whole(1, 16, optional=True),
        KIT,
        "MIDI channel of the drums.",
        metavar="1-16",
        unset="10, or the only one",
        looks=True,
    )
    hold: tuple[str, ...] = setting(
        (),
        texts(read_hold, keep_text=True, least=0),
        MOVES,
        "Stays as played, from bar:beat to bar:beat, or whole bars such as `17-20`.",
        more='In a recipe also tables `[[hold]]` with `at = "17:4-18:1"`.',
        metavar="A-B",
        unset=NONE,
        usual=True,
    )
    resolution: int | None = setting(
        None,
        whole(24, 32767, optional=True),
        OUTPUT,
        "Write with a finer division: a whole multiple of the take's ticks per quarter.",
        unit="ticks",
        unset="as the take",
    )
