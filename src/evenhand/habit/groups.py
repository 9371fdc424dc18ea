"""Middles of many groups at once."""

import numpy as np

from evenhand.columns import Floats, Ints, clipped

# Larger values count as this: far more than any distance from a line, ms.
_WIDEST = 2.0**17


class Groups:
    """Which of some groups each of n values is in, for the middles of several columns.

    Attributes
    ----------
    many : float64 array, shape (count,)
        How many values each group has.
    """

    def __init__(self, group: Ints, count: int) -> None:
        """Number the places of each group in one sorted column.

        Parameters
        ----------
        group : int64 array, shape (n,)
            From 0 to `count` - 1.
        count : int
        """
        many = np.bincount(group, minlength=count)
        begin, last = many.cumsum() - many, max(len(group) - 1, 0)
        # An empty group points at what is not its own; it is masked out below.
        self._low = np.minimum(begin + np.maximum(many - 1, 0) // 2, last)
        self._high = np.minimum(begin + many // 2, last)
        self._there = many > 0
        self._begin = np.arange(count) * (4 * _WIDEST)
        self._begin_of = self._begin[group]
        self.many = many.astype(np.float64)

    def middles(self, value: Floats) -> Floats:
        """The median of each group; 0 for an empty one.

        Parameters
        ----------
        value : float64 array, shape (n,)
        """
        if not len(value):
            return np.zeros(len(self.many))
        # One plain sort of everything, each group in a stretch of its own: a tenth of the time of
        # sorting by two keys.
        in_order = clipped(value, -_WIDEST, _WIDEST)
        in_order += self._begin_of
        in_order.sort()
        middle = (in_order[self._low] + in_order[self._high]) / 2 - self._begin
        return np.where(self._there, middle, 0.0)

    def drawn(self, value: Floats, weight: float) -> Floats:
        """The median of each group, drawn towards 0 as if `weight` more members lay there.

        Parameters
        ----------
        value : float64 array, shape (n,)
        weight : float
        """
        return np.asarray(self.middles(value) * self.many / (self.many + weight))


def middles(value: Floats, group: Ints, count: int) -> tuple[Floats, Floats]:
    """The median of each group, and how many it rests on; 0 and 0 for an empty one.

    Parameters
    ----------
    value : float64 array, shape (n,)
    group : int64 array, shape (n,)
        From 0 to `count` - 1.
    count : int

    Returns
    -------
    middle, many : float64 arrays, shape (count,)
    """
    groups = Groups(group, count)
    return groups.middles(value), groups.many


def drawn(value: Floats, group: Ints, count: int, weight: float) -> Floats:
    """The median of each group, drawn towards 0 as if `weight` more members lay there."""
    return Groups(group, count).drawn(value, weight)
