"""The maps of time that carry every drum event, and what came of them."""

from evenhand.carry.build import LIMITED, LIMITED_OUT, build_carry
from evenhand.carry.carry import Carry
from evenhand.carry.close import (
    ANCHOR_WEIGHT,
    FADE_MS,
    HOLD_MS,
    LEAD_MS,
    Room,
    Spans,
    join_close,
)
from evenhand.carry.for_audio import CUT_AS_ONE, close_up
from evenhand.carry.limb_knots import ALONG, OWN_TIME
from evenhand.carry.meant import Nudged, find_nudges
from evenhand.carry.nudges import NUDGED, nudge
from evenhand.carry.releases import keep_lasting
from evenhand.carry.shift_map import AFTER, BEFORE, BETWEEN, NO_ANCHORS, ShiftMap
from evenhand.carry.written import go_before_start, written

__all__ = [
    "AFTER",
    "ALONG",
    "ANCHOR_WEIGHT",
    "BEFORE",
    "BETWEEN",
    "CUT_AS_ONE",
    "FADE_MS",
    "HOLD_MS",
    "LEAD_MS",
    "LIMITED",
    "LIMITED_OUT",
    "NO_ANCHORS",
    "NUDGED",
    "OWN_TIME",
    "Carry",
    "Nudged",
    "Room",
    "ShiftMap",
    "Spans",
    "build_carry",
    "close_up",
    "find_nudges",
    "go_before_start",
    "join_close",
    "keep_lasting",
    "nudge",
    "written",
]
