"""The page that plays and shows a take before and after."""

from evenhand.listen.data import (
    Names,
    empty_page_data,
    own_settings,
    page_data,
    page_sounds,
    result_data,
    take_data,
)
from evenhand.listen.from_take import MARK, listening_page
from evenhand.listen.history import passes_of
from evenhand.listen.page_file import build_page
from evenhand.listen.pair import BeforeAfter, compare

__all__ = [
    "MARK",
    "BeforeAfter",
    "Names",
    "build_page",
    "compare",
    "empty_page_data",
    "listening_page",
    "own_settings",
    "page_data",
    "page_sounds",
    "passes_of",
    "result_data",
    "take_data",
]
