"""Fills that rush or drag as a whole: those are moved as a whole."""

import numpy as np

from evenhand.columns import Bools, Floats, Ints, indices, median
from evenhand.measure import Admissible

#: Fewest hits that show how a fill lies.
_FEWEST = 4


def whole_shifts(fill: Ints, excess: Floats, admissible: Admissible) -> Floats:
    """Find how far each fill is off as a whole, and what would mend it.

    A fill rushes (or drags) as a whole if both its first and its second half do: the median
    excess of each is too far off, on the same side. A fill that only rushes towards its
    end keeps its shape.

    Parameters
    ----------
    fill : int64 array, shape (n,)
        The fill of each of its hits in time order; -1 for hits in none.
    excess : float64 array, shape (n,)
        How far each hit is from its target, ms.
    admissible : Admissible
        How far off each of f fills may be and still be left alone.

    Returns
    -------
    float64 array, shape (f,)
        In ms; 0 for fills that are not off as a whole.
    """
    shift = np.zeros(len(admissible.low))
    for one in range(len(shift)):
        mine = excess[fill == one]
        if len(mine) < _FEWEST:
            continue
        halves = np.array([median(half) for half in np.array_split(mine, 2)])
        if abs(admissible.at(np.array([one])).side(halves).sum()) == len(halves):
            shift[one] = -median(mine)
    return shift


def ends_of(fill: Ints, moved: Bools) -> Ints:
    """The first and the last hit of each fill that moves.

    Parameters
    ----------
    fill : int64 array, shape (n,)
        As in `whole_shifts`.
    moved : bool array, shape (f,)

    Returns
    -------
    int64 array
        Indices from 0 to n - 1, in order.
    """
    ends = [indices(fill == one)[[0, -1]] for one in indices(moved)]
    return np.unique(np.concatenate(ends)) if ends else np.zeros(0, np.int64)
