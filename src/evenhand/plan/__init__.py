"""What is to happen: the line each stroke belongs to, and how far it should move."""

from evenhand.plan.holds import FILL_AS_PLAYED, IN_HOLD, LANDING_AS_PLAYED, NO_GRID, Stretch
from evenhand.plan.plan import Plan, make_plan
from evenhand.plan.verdicts import (
    FATES,
    HELD,
    IN_FILL,
    INSIDE,
    INSIDE_FILL,
    KEPT,
    LINE_TAKEN,
    MOVED,
    NO_STRENGTH,
    OFF_GRID,
    OFF_THE_GRID,
    OUTSIDE,
    SYNCOPATED,
    TAKEN,
    WITH_FILL,
    WITH_SPAN,
)

__all__ = [
    "FATES",
    "FILL_AS_PLAYED",
    "HELD",
    "INSIDE",
    "INSIDE_FILL",
    "IN_FILL",
    "IN_HOLD",
    "KEPT",
    "LANDING_AS_PLAYED",
    "LINE_TAKEN",
    "MOVED",
    "NO_GRID",
    "NO_STRENGTH",
    "OFF_GRID",
    "OFF_THE_GRID",
    "OUTSIDE",
    "SYNCOPATED",
    "TAKEN",
    "WITH_FILL",
    "WITH_SPAN",
    "Plan",
    "Stretch",
    "make_plan",
]
