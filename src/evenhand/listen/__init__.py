"""The page that plays and shows a take before and after."""

from evenhand.listen.build import build_page
from evenhand.listen.data import (
    Names,
    empty_page_data,
    own_settings,
    page_data,
    page_sounds,
    result_data,
    take_data,
)
from evenhand.listen.history import passes_of
from evenhand.listen.pair import BeforeAfter, compare
from evenhand.listen.whole import MARK, listening_page

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
