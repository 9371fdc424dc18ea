"""What is to happen: strokes, the line each belongs to, and how far each should move."""

from evenhand.plan.ground import Ground, prepare, without_latency
from evenhand.plan.holds import FILL_AS_PLAYED, IN_HOLD, LANDING_AS_PLAYED, NO_GRID, Stretch
from evenhand.plan.plan import (
    FATES,
    HELD,
    IN_FILL,
    KEPT,
    LINE_TAKEN,
    MOVED,
    OFF_GRID,
    Plan,
    make_plan,
)
from evenhand.plan.strokes import Strokes
from evenhand.plan.targets import noticed

__all__ = [
    "FATES",
    "FILL_AS_PLAYED",
    "HELD",
    "IN_FILL",
    "IN_HOLD",
    "KEPT",
    "LANDING_AS_PLAYED",
    "LINE_TAKEN",
    "MOVED",
    "NO_GRID",
    "OFF_GRID",
    "Ground",
    "Plan",
    "Stretch",
    "Strokes",
    "make_plan",
    "noticed",
    "prepare",
    "without_latency",
]
