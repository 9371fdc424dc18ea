"""Pictures for people who look: a take, or a pass over it, on one sheet."""

from evenhand.picture.draw import FORMATS, draw
from evenhand.picture.overview import Overview, overview_of

__all__ = ["FORMATS", "Overview", "draw", "overview_of"]
