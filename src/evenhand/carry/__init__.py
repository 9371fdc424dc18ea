"""The map of time that carries every drum event, and what came of it."""

from evenhand.carry.nudges import NUDGED, nudge
from evenhand.carry.releases import keep_lasting
from evenhand.carry.shift_map import (
    AFTER,
    BEFORE,
    BETWEEN,
    LIMITED,
    NO_ANCHORS,
    Carry,
    ShiftMap,
    build_carry,
)
from evenhand.carry.written import go_before_start, written

__all__ = [
    "AFTER",
    "BEFORE",
    "BETWEEN",
    "LIMITED",
    "NO_ANCHORS",
    "NUDGED",
    "Carry",
    "ShiftMap",
    "build_carry",
    "go_before_start",
    "keep_lasting",
    "nudge",
    "written",
]
