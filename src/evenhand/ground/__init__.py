"""The ground of a take: hits named, sections, ornaments, fills, strokes, the grid."""

from evenhand.ground.dials import SectionDials
from evenhand.ground.fills import Fills, loose_fills
from evenhand.ground.ground import Ground
from evenhand.ground.ornaments import Ornaments
from evenhand.ground.prepare import Depth, prepare, without_latency
from evenhand.ground.strokes import Strokes
from evenhand.ground.told import OFFSET, TEMPO, say_tempo, told_of_whole
from evenhand.ground.whole import Whole

__all__ = [
    "OFFSET",
    "TEMPO",
    "Depth",
    "Fills",
    "Ground",
    "Ornaments",
    "SectionDials",
    "Strokes",
    "Whole",
    "loose_fills",
    "prepare",
    "say_tempo",
    "told_of_whole",
    "without_latency",
]
