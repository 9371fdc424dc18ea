"""What all pages share: shell, style, scripts, builder."""

from evenhand.web.assembly import one_file, served, served_files
from evenhand.web.colours import page_colours

__all__ = ["one_file", "page_colours", "served", "served_files"]
