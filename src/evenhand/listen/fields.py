"""The settings that the page offers, as sentences with a gap."""

from dataclasses import asdict, dataclass
from typing import Any

from evenhand.recipe import AUTO, OF_A_SECTION, OFF, ON, Recipe

#: The groups, in the order of the page.
_WHO, _HOW, _GRID, _KIT = "What stays", "How far", "The grid", "The take"


@dataclass(frozen=True)
class Field:
    """A setting on the page.

    Attributes
    ----------
    name, group, before, after : str
        `after` follows the gap, `before` leads to it.
    low, high : float
    most : float
        Where the dial ends; more can be typed.
    unit : str
    auto, whole : bool
        Whether `auto` may be said; whether only whole numbers may.
    choices : tuple of str
        What there is to choose; empty for a number.
    """

    name: str
    group: str
    before: str
    after: str = ""
    low: float = 0
    high: float = 100
    most: float = 100
    unit: str = ""
    auto: bool = False
    whole: bool = False
    choices: tuple[str, ...] = ()


_GRIDS = (AUTO, "1/4", "1/4T", "1/8", "1/8T", "1/16", "1/16T", "1/32")

FIELDS = (
    Field("window", _WHO, "What is this near to its target stays:", "ms", 0, 200, auto=True),
    Field("fills", _WHO, "Fills are treated", choices=("loose", "tight", "as-played")),
    Field("fill_landing", _WHO, "and where they land", choices=("tight", "as-played")),
    Field(
        "syncopation",
        _WHO,
        "On a line of another grid, on purpose:",
        choices=(AUTO, "stay", "move"),
    ),
    Field("strength", _HOW, "Of what is too much,", "% goes.", unit="%"),
    Field("lean", _HOW, "Of a section's own push or drag,", "% stays.", unit="%"),
    Field("plan", _HOW, "What moves together:", choices=("hits", "spans")),
    Field("ornaments", _HOW, "Graces and rolls go with their main hit:", choices=(ON, OFF)),
    Field("grid", _GRID, "Lines stand on", choices=_GRIDS),
    Field("swing", _GRID, "The second line of a pair stands at", "% of it.", 20, 80, unit="%"),
    Field("reach", _GRID, "A line reaches", "% of the gap to the next.", unit="%"),
    Field("latency", _KIT, "Every hit was written", "ms late.", -10_000, 10_000, auto=True),
    Field(
        "ghost_below",
        _KIT,
        "Softer snare hits are ghosts: below",
        "",
        1,
        128,
        auto=True,
        whole=True,
    ),
    Field("together", _KIT, "Anchors are one stroke within", "ms.", 0, 200),
)


def fields_data() -> list[dict[str, Any]]:
    """The fields as the page reads them, with what is usual."""
    usual = Recipe().settings()
    return [
        {**asdict(one), "usual": usual[one.name], "in_section": one.name in OF_A_SECTION}
        for one in FIELDS
        if one.name in usual
    ]
