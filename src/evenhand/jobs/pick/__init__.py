"""The best of several takes of one song, section by section."""

from evenhand.jobs.pick.by_hand import ByHand, parse_by_hand, read_by_hand
from evenhand.jobs.pick.pick import Picked, Seam, Wishes, pick
from evenhand.jobs.pick.report import picked_csv, picked_json, picked_page

__all__ = [
    "ByHand",
    "Picked",
    "Seam",
    "Wishes",
    "parse_by_hand",
    "pick",
    "picked_csv",
    "picked_json",
    "picked_page",
    "read_by_hand",
]
