"""What all pages share: shell, style, scripts, builder."""

from evenhand.web.build import one_file, served
from evenhand.web.modules import LIBRARY, page_file

__all__ = ["LIBRARY", "one_file", "page_file", "served"]
