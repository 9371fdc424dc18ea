"""How hits stand to their lines, and the feel: one answer to each question."""

from evenhand.measure.admissible import Admissible, noticed
from evenhand.measure.deviations import Lean, Measured, Trend, find_trend, measure, nearest, sum_up
from evenhand.measure.feel import (
    Dynamics,
    Evenness,
    Limbs,
    Swing,
    find_dynamics,
    find_evenness,
    find_limbs,
    find_swing,
)
from evenhand.measure.outliers import Outlier, find_outliers

__all__ = [
    "Admissible",
    "Dynamics",
    "Evenness",
    "Lean",
    "Limbs",
    "Measured",
    "Outlier",
    "Swing",
    "Trend",
    "find_dynamics",
    "find_evenness",
    "find_limbs",
    "find_outliers",
    "find_swing",
    "find_trend",
    "measure",
    "nearest",
    "noticed",
    "sum_up",
]
