"""What all pages share: shell, style, scripts, builder."""

from evenhand.web.build import one_file, served, served_files

__all__ = ["one_file", "served", "served_files"]
