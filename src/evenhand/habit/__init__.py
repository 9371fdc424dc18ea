"""What this drummer usually does, and the drift around it."""

from evenhand.habit import trust
from evenhand.habit.drift import find_drift
from evenhand.habit.evidence import Belonging, find_lines
from evenhand.habit.groups import drawn, middles
from evenhand.habit.intervals import Sounding, evened_by, find_sounding
from evenhand.habit.limbs import NAMES, NO_LIMB, TIME_HAND, find_alone, find_limbs
from evenhand.habit.near import Near, near_lines
from evenhand.habit.pushes import (
    Pushes,
    as_heard,
    find_pushes,
    with_borders,
    without_recurring,
)
from evenhand.habit.slips import LIMIT, Marks, find_marks
from evenhand.habit.steps import Steps, find_steps
from evenhand.habit.usual import Habit, plainly_usual
from evenhand.habit.voices import find_voices

__all__ = [
    "LIMIT",
    "NAMES",
    "NO_LIMB",
    "TIME_HAND",
    "Belonging",
    "Habit",
    "Marks",
    "Near",
    "Pushes",
    "Sounding",
    "Steps",
    "as_heard",
    "drawn",
    "evened_by",
    "find_alone",
    "find_drift",
    "find_limbs",
    "find_lines",
    "find_marks",
    "find_pushes",
    "find_sounding",
    "find_steps",
    "find_voices",
    "middles",
    "near_lines",
    "plainly_usual",
    "trust",
    "with_borders",
    "without_recurring",
]
