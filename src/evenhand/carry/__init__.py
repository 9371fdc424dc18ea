"""The map of time that carries every drum event, and what came of it."""

from evenhand.carry.nudges import nudge
from evenhand.carry.releases import keep_lasting
from evenhand.carry.shift_map import Carry, ShiftMap, build_carry

__all__ = ["Carry", "ShiftMap", "build_carry", "keep_lasting", "nudge"]
