"""Sections: found, marked, given; the stretches that are judged on their own."""

from evenhand.sections.found import find_sections
from evenhand.sections.overlaid import Wanted, overlay
from evenhand.sections.sections import EARLY, SECTION_SOURCES, Sections

__all__ = ["EARLY", "SECTION_SOURCES", "Sections", "Wanted", "find_sections", "overlay"]
