"""Where hits could belong: the lines of a grid."""

from evenhand.grid.choice import Choice, choose_grid
from evenhand.grid.layout import Layout, find_layout
from evenhand.grid.lines import (
    GRID_NAMES,
    STRAIGHT,
    Grid,
    Lines,
    belongs,
    lines_at,
    parse_grid,
    share_under_grids,
)

__all__ = [
    "GRID_NAMES",
    "STRAIGHT",
    "Choice",
    "Grid",
    "Layout",
    "Lines",
    "belongs",
    "choose_grid",
    "find_layout",
    "lines_at",
    "parse_grid",
    "share_under_grids",
]
