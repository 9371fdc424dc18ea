"""The page that plays and shows a take before and after."""

from evenhand.listen.build import build_page
from evenhand.listen.data import Names, empty_page_data, page_data
from evenhand.listen.history import passes_of
from evenhand.listen.pair import compare

__all__ = ["Names", "build_page", "compare", "empty_page_data", "page_data", "passes_of"]
