"""What came of a pass: what happened to each hit, figures, flags, what was kept."""

from evenhand.outcome.changes import CARRIED, Changes, list_changes
from evenhand.outcome.figures import Figures, Tightness, take_figures
from evenhand.outcome.flags import Flag, raise_flags
from evenhand.outcome.kept import Kept, Pair, compare_feel, compare_leans
from evenhand.outcome.log import COLUMNS
from evenhand.outcome.section import Section, list_sections

__all__ = [
    "CARRIED",
    "COLUMNS",
    "Changes",
    "Figures",
    "Flag",
    "Kept",
    "Pair",
    "Section",
    "Tightness",
    "compare_feel",
    "compare_leans",
    "list_changes",
    "list_sections",
    "raise_flags",
    "take_figures",
]
