"""Figures that a few wild values don't turn: middles of groups, a spread, a straight line."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints, median

#: The median distance of a bell from its middle times this is its standard deviation:
#: 1 / Φ⁻¹(3/4) (Rousseeuw & Croux 1993, J. Am. Stat. Assoc. 88, 1273-1283).
BELL = 1.4826

#: A line is there if chance does worse in about 99 of 100 cases, two-sided.
_DOUBT = 2.58

#: A line is found from no more points than this: pairs grow with the square.
MOST_POINTS = 200


def spread_of(values: Floats, middle: float) -> float:
    """The spread without outliers: `BELL` times the median distance from the middle.

    Parameters
    ----------
    values : float64 array, shape (n,)
        At least one.
    middle : float
        Their median, as a rule.
    """
    return BELL * median(np.abs(values - middle))


def medians(values: Floats | Ints, group: Ints, count: int) -> Floats:
    """The median of each group.

    Parameters
    ----------
    values : float64 or int64 array, shape (n,)
        None of them NaN.
    group : int64 array, shape (n,)
        From 0 to `count` - 1; no group is empty.
    count : int

    Returns
    -------
    float64 array, shape (count,)
    """
    order = np.lexsort((values, group))
    many = np.bincount(group, minlength=count)
    begin = np.cumsum(many) - many
    ranked = values[order]
    return np.asarray((ranked[begin + (many - 1) // 2] + ranked[begin + many // 2]) / 2)


@dataclass(frozen=True)
class StraightLine:
    """A straight line through some points.

    Attributes
    ----------
    slope : float
    level : float
        Where it stands at 0.
    """

    slope: float
    level: float

    def at(self, place: float) -> float:
        """Where it stands at some place."""
        return self.level + self.slope * place


def thinned(group: Ints, count: int) -> tuple[Ints, int]:
    """Put neighbouring groups together until there are no more than `MOST_POINTS`.

    Parameters
    ----------
    group : int64 array, shape (n,)
        From 0 to `count` - 1.
    count : int

    Returns
    -------
    group : int64 array, shape (n,)
    count : int
    """
    block = -(-count // MOST_POINTS)
    return group // block, -(-count // block)


def straight_line(place: Floats, value: Floats) -> StraightLine | None:
    """The straight line that some points follow.

    Its slope is the median of the slopes between all pairs of points (Theil 1950, Sen 1968, J. Am.
    Stat. Assoc. 63, 1379-1389). It is told only where Kendall's rank correlation of place and value
    is beyond chance.

    Parameters
    ----------
    place, value : float64 arrays, shape (n,)
        Places rise.

    Returns
    -------
    StraightLine or None
        None where chance would do as well.
    """
    n = len(place)
    one, other = np.triu_indices(n, 1)
    rise = value[other] - value[one]
    if abs(np.sign(rise).sum()) <= _DOUBT * np.sqrt(n * (n - 1) * (2 * n + 5) / 18):
        return None
    slope = median(rise / (place[other] - place[one]))
    return StraightLine(slope, median(value - slope * place))
