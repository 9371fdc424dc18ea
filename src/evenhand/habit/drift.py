"""Drift: how the whole playing runs ahead or eases around what is usual.

What all limbs play is off their habit by some ms at each half beat. The drift at a place is the mean
of that over two beats on both sides, nearer ones counting more, what is struck at the place itself
left out: a stroke says nothing about its own surroundings, or a slip would excuse itself. Single
slips turn it little: each counts for no more than `_SLIP_MS`, and for less where hits scatter
widely.
"""

import numpy as np

from evenhand.columns import Floats, Ints

#: Half beats on each side that count, with weights falling evenly to 0.
_REACH = 4
#: A hit is taken to be off by no more than this, ms: what is further off is a slip.
_SLIP_MS = 25.0
#: Hits count for less where they scatter by more than this, ms.
_TIGHT_MS = 6.0
#: As if two hits of a usual spread (14 ms) lay on the habit itself: few hits say little.
_PRIOR = 2 / 14.0**2


def find_drift(off: Floats, spread: Floats, half_beat: Ints) -> Floats:
    """The drift at each hit, ms.

    Parameters
    ----------
    off : float64 array, shape (n,)
        How far each hit is from its usual place, ms.
    spread : float64 array, shape (n,)
        How widely such hits scatter, ms.
    half_beat : int64 array, shape (n,)
        Where the line of each hit lies.
    """
    weight = 1 / np.maximum(spread, _TIGHT_MS) ** 2
    total, count = around(half_beat, weight * np.clip(off, -_SLIP_MS, _SLIP_MS), weight)
    return np.asarray(total / (count + _PRIOR))


def around(half_beat: Ints, *columns: Floats) -> list[Floats]:
    """Sums over the half beats around each hit but its own, nearer ones counting more.

    Parameters
    ----------
    half_beat : int64 array, shape (n,)
    columns : float64 arrays, shape (n,)
        What is summed.
    """
    place, at = np.unique(half_beat, return_inverse=True)
    sums = []
    step = np.concatenate([np.arange(-_REACH, 0), np.arange(1, _REACH + 1)])
    there = np.minimum(np.searchsorted(place, place + step[:, None]), max(len(place) - 1, 0))
    share = (1 - np.abs(step) / (_REACH + 1))[:, None] * (place[there] == place + step[:, None])
    for column in columns:
        here = np.bincount(at, column, len(place))
        sums.append(np.asarray((share * here[there]).sum(axis=0)[at]))
    return sums
