"""One map of time for each limb (rule 19): what moves one limb leaves the others where they are."""

from dataclasses import dataclass

import numpy as np

from evenhand.carry.shift_map import ShiftMap
from evenhand.carry.squeeze import guard
from evenhand.columns import Bools, Floats, Ints

#: Ticks within which two knots are one.
_SAME = 1e-6


@dataclass(frozen=True, eq=False)
class Knots:
    """What stands still or moves by a known amount, k of them.

    Attributes
    ----------
    first, last : float64 arrays, shape (k,)
        Ticks.
    shift : float64 array, shape (k,)
        In ticks.
    limb : int64 array, shape (k,)
        The limb whose map it stands in; -1 for all maps.
    stroke : int64 array, shape (k,)
        The stroke it is; -1 for none.
    """

    first: Floats
    last: Floats
    shift: Floats
    limb: Ints
    stroke: Ints


def limb_maps(knots: Knots, limbs: int) -> tuple[list[ShiftMap], Bools]:
    """Build the map of each limb.

    Parameters
    ----------
    knots : Knots
    limbs : int
        How many maps there are.

    Returns
    -------
    maps : list of ShiftMap
    squeezed : bool array, shape (k,)
        Which knots could not move as far as wanted.
    """
    maps, squeezed = [], np.zeros(len(knots.first), np.bool_)
    for limb in range(limbs):
        mine = np.flatnonzero((knots.limb == limb) | (knots.limb < 0))
        mine = mine[np.lexsort((knots.last[mine], knots.first[mine]))]
        mine = mine[_apart(knots.first[mine], knots.last[mine], knots.stroke[mine] >= 0)]
        first, last = knots.first[mine], knots.last[mine]
        shift, reduced = guard(first, last, knots.shift[mine])
        squeezed[mine[reduced]] = True
        place = np.stack([first, last], axis=1).ravel()
        maps.append(ShiftMap(place, np.repeat(shift, 2)))
    return maps, squeezed


def _apart(first: Floats, last: Floats, stroke: Bools) -> Bools:
    """Knots that don't overlap: a stroke counts more than what is struck inside it."""
    keep = np.ones(len(first), np.bool_)
    reached = np.maximum.accumulate(last)
    opens = np.append(True, first[1:] > reached[:-1] + _SAME)[: len(first)]
    # What stands by itself is kept; only what overlaps is looked at one by one.
    crowded = np.flatnonzero(~(opens & np.append(opens[1:], True)[: len(first)]))
    end, holder = -np.inf, -1
    for at in crowded.tolist():
        if first[at] > end + _SAME:
            end, holder = last[at], at
        elif stroke[at] and not stroke[holder]:
            keep[holder] = False
            end, holder = last[at], at
        else:
            keep[at] = False
    return keep
