"""A take in one picture: its deviations, its habit, how even its hats are."""

from evenhand.picture.draw import KINDS, draw, need_drawing
from evenhand.picture.shown import Even, Habits, Shown, show_assessment, show_result

__all__ = [
    "KINDS",
    "Even",
    "Habits",
    "Shown",
    "draw",
    "need_drawing",
    "show_assessment",
    "show_result",
]
