"""One map of time for each limb (rule 19): what moves one limb leaves the others where they are."""

from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np

from evenhand.carry.shift_map import ShiftMap
from evenhand.carry.squeeze import settle
from evenhand.columns import Bools, Floats, Ints, indices

#: The limb of knots that stand in all maps.
ALL = -1

#: What a knot is: a stroke or hits that keep their distances; the end of a hold; a single hit.
#: Of two that overlap, the earlier in this list counts.
GROUP, EDGE, HIT = 2, 1, 0

#: Ticks within which two knots are one, and two shifts.
_SAME = 1e-6

#: How often knots that stand in several maps are made to agree before that is given up.
_ROUNDS = 12


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
        The limb whose map it stands in, or `ALL`.
    unit : int64 array, shape (k,)
        Knots of one unit, from 0, move by one amount.
    kind : int64 array, shape (k,)
        `GROUP`, `EDGE` or `HIT`.
    """

    first: Floats
    last: Floats
    shift: Floats
    limb: Ints
    unit: Ints
    kind: Ints

    def __len__(self) -> int:
        return len(self.first)

    @classmethod
    def joined(cls, parts: list["Knots"]) -> "Knots":
        """All of them in one."""
        return cls(
            *(np.concatenate([getattr(one, field.name) for one in parts]) for field in fields(cls))
        )


def limb_maps(knots: Knots, limbs: int) -> tuple[tuple[ShiftMap, ...], Floats]:
    """Build the map of each limb; where the guard limits a unit in one, it is limited in all.

    Parameters
    ----------
    knots : Knots
    limbs : int
        How many maps there are.

    Returns
    -------
    maps : tuple of ShiftMap
    shift : float64 array, shape (units,)
        How far each unit moves, ticks; NaN for units that have no knot or that others cover.
    """
    in_order = np.lexsort((knots.last, knots.first))
    limb = knots.limb[in_order]
    in_all = limb == ALL
    standing = [_standing(knots, in_order[in_all | (limb == number)]) for number in range(limbs)]
    ends = np.cumsum([len(at) for at in standing])
    # All maps in one row, with no end of room between them.
    every = np.concatenate(standing)
    gap = knots.first[every[1:]] - knots.last[every[:-1]]
    gap[ends[:-1][(ends[:-1] > 0) & (ends[:-1] < len(every))] - 1] = np.inf
    unit, wanted = knots.unit[every], knots.shift[every]
    units = int(knots.unit.max(initial=-1)) + 1
    for _ in range(_ROUNDS):
        settled, shift = settle(gap, wanted)[0], np.full(units, np.nan)
        shift[unit] = settled
        if (shift[unit] == settled).all():
            break
        size, least = np.abs(settled), np.full(units, np.inf)
        np.minimum.at(least, unit, size)
        # Backwards: of two as small, the first counts.
        nearest = indices(size == least[unit])[::-1]
        shift[unit[nearest]] = settled[nearest]
        wanted = shift[unit]
        if (np.abs(wanted - settled) <= _SAME).all():
            break
    places = np.stack([knots.first[every], knots.last[every]], axis=1).ravel()
    shifts = np.repeat(settled, 2)
    maps = tuple(
        ShiftMap(places[2 * begin : 2 * end], shifts[2 * begin : 2 * end])
        for begin, end in pairwise([0, *ends.tolist()])
    )
    return maps, shift


def _standing(knots: Knots, mine: Ints) -> Ints:
    """The knots of one map, in time order, without those that overlap with what counts more."""
    return mine[_apart(knots.first[mine], knots.last[mine], knots.kind[mine])]


def _apart(first: Floats, last: Floats, kind: Ints) -> Bools:
    """Which knots are left where they overlap."""
    keep = np.ones(len(first), np.bool_)
    reached = np.maximum.accumulate(last)
    clear = first[1:] > reached[:-1] + _SAME
    if clear.all():
        return keep
    opens = np.append(True, clear)
    # What stands by itself is kept; only what overlaps is looked at one by one.
    crowded = indices(~(opens & np.append(clear, True)))
    end, holder = -np.inf, -1
    for at in crowded.tolist():
        if first[at] > end + _SAME:
            end, holder = last[at], at
        elif kind[at] > kind[holder]:
            keep[holder] = False
            end, holder = last[at], at
        else:
            keep[at] = False
    return keep
