"""The best of several takes of one song, section by section."""

from evenhand.jobs.pick.best_takes import Picked, PickWishes, Seam, pick
from evenhand.jobs.pick.by_hand import ByHand, parse_by_hand, read_by_hand
from evenhand.jobs.pick.pick_words import picked_csv, picked_json, picked_page

__all__ = [
    "ByHand",
    "PickWishes",
    "Picked",
    "Seam",
    "parse_by_hand",
    "pick",
    "picked_csv",
    "picked_json",
    "picked_page",
    "read_by_hand",
]
