"""Which hit of one file is which of another, and what differs."""

from evenhand.compare.differences import WITHIN_MS, compare
from evenhand.compare.phrases import comparison_json, comparison_page
from evenhand.compare.sums import comparison_csv

__all__ = ["WITHIN_MS", "compare", "comparison_csv", "comparison_json", "comparison_page"]
