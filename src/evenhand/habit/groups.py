"""Middles of many groups at once."""

import numpy as np

from evenhand.columns import Floats, Ints

# Larger values count as this: far more than any distance from a line, ms.
_WIDEST = 2.0**17


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
    many = np.bincount(group, minlength=count)
    if not len(value):
        return np.zeros(count), many.astype(np.float64)
    # One plain sort of everything, each group in a stretch of its own: a tenth of the time of
    # sorting by two keys.
    in_order = np.sort(np.minimum(np.maximum(value, -_WIDEST), _WIDEST) + group * (4 * _WIDEST))
    begin = np.cumsum(many) - many
    # An empty group points at what is not its own; it is masked out below.
    low = np.minimum(begin + np.maximum(many - 1, 0) // 2, len(value) - 1)
    high = np.minimum(begin + many // 2, len(value) - 1)
    middle = (in_order[low] + in_order[high]) / 2 - np.arange(count) * (4 * _WIDEST)
    return np.where(many > 0, middle, 0.0), many.astype(np.float64)


def drawn(value: Floats, group: Ints, count: int, weight: float) -> Floats:
    """The median of each group, drawn towards 0 as if `weight` more members lay there."""
    middle, many = middles(value, group, count)
    return np.asarray(middle * many / (many + weight))
