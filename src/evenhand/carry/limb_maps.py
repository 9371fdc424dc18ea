"""One map of time for each limb (rule 19): what moves one limb leaves the others where they are."""

from dataclasses import dataclass, fields

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
    standing = [_standing(knots, limb) for limb in range(limbs)]
    ends = np.cumsum([len(at) for at in standing])
    # All maps in one row, with no end of room between them.
    every = np.concatenate(standing)
    gap = knots.first[every[1:]] - knots.last[every[:-1]]
    gap[ends[:-1][(ends[:-1] > 0) & (ends[:-1] < len(every))] - 1] = np.inf
    units = int(knots.unit.max(initial=-1)) + 1
    wanted = knots.shift
    for _ in range(_ROUNDS):
        settled = np.split(settle(gap, wanted[every])[0], ends[:-1])
        shift = np.full(units, np.nan)
        for at, got in zip(standing, settled, strict=True):
            there = shift[knots.unit[at]]
            nearer = np.isnan(there) | (np.abs(got) < np.abs(there))
            shift[knots.unit[at]] = np.where(nearer, got, there)
        agreed = np.where(np.isnan(shift[knots.unit]), wanted, shift[knots.unit])
        if all(
            (np.abs(agreed[at] - got) <= _SAME).all()
            for at, got in zip(standing, settled, strict=True)
        ):
            break
        wanted = agreed
    maps = tuple(
        ShiftMap(np.stack([knots.first[at], knots.last[at]], axis=1).ravel(), np.repeat(got, 2))
        for at, got in zip(standing, settled, strict=True)
    )
    return maps, shift


def _standing(knots: Knots, limb: int) -> Ints:
    """The knots of one map, in time order, those left out that overlap with what counts more."""
    mine = indices((knots.limb == limb) | (knots.limb == ALL))
    mine = mine[np.lexsort((knots.last[mine], knots.first[mine]))]
    return mine[_apart(knots.first[mine], knots.last[mine], knots.kind[mine])]


def _apart(first: Floats, last: Floats, kind: Ints) -> Bools:
    """Which knots are left where they overlap."""
    keep = np.ones(len(first), np.bool_)
    reached = np.maximum.accumulate(last)
    opens = np.append(True, first[1:] > reached[:-1] + _SAME)[: len(first)]
    # What stands by itself is kept; only what overlaps is looked at one by one.
    crowded = indices(~(opens & np.append(opens[1:], True)[: len(first)]))
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
