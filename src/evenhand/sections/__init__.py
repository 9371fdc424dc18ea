"""Sections: found, marked, given; the stretches that are judged on their own."""

from evenhand.sections.found import find_sections
from evenhand.sections.overlaid import EARLY, Wanted, overlay
from evenhand.sections.sections import SECTION_SOURCES, Sections, one_section

__all__ = [
    "EARLY",
    "SECTION_SOURCES",
    "Sections",
    "Wanted",
    "find_sections",
    "one_section",
    "overlay",
]
