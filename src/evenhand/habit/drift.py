"""Drift: how the whole playing runs ahead or eases around what is usual.

What all limbs play is off their habit by some ms at each half beat. The drift at a place is the
mean of that over two beats on both sides, nearer ones counting more, what is struck at the place
itself left out: a stroke says nothing about its own surroundings, or a slip would excuse itself.
Single slips turn it little: each counts for no more than `_SLIP_MS`, and for less where hits
scatter widely.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints, clipped, numbered, picked

#: Half beats on each side that count, with weights falling evenly to 0.
_REACH = 4
#: A hit is taken to be off by no more than this, ms: what is further off is a slip.
_SLIP_MS = 25.0
#: Hits count for less where they scatter by more than this, ms.
_TIGHT_MS = 6.0
#: As if two hits of a usual spread (14 ms) lay on the habit itself: few hits say little.
_PRIOR = 2 / 14.0**2


@dataclass(frozen=True, eq=False)
class Beats:
    """The half beats that lines lie in, b of them, and what is around each.

    Attributes
    ----------
    of : int64 array, shape (n, lines)
        The half beat of each line near each hit, numbered from 0.
    there : int64 array, shape (steps, b)
        The half beats around each.
    share : float64 array, shape (steps, b)
        How much they count; 0 where there is none.
    """

    of: Ints
    there: Ints
    share: Floats


def find_beats(half_beat: Ints) -> Beats:
    """Number the half beats.

    Parameters
    ----------
    half_beat : int64 array, shape (n, lines)
        Which half of a quarter note of the take each line is nearest to.
    """
    place, of = numbered(half_beat)
    step = np.concatenate([np.arange(-_REACH, 0), np.arange(1, _REACH + 1)])[:, None]
    last = max(len(place) - 1, 0)
    # Nearly always something is struck on each half beat: then the next one is the next.
    gapless = len(place) and place[-1] - place[0] == last
    there = np.arange(len(place)) + step if gapless else np.searchsorted(place, place + step)
    there = clipped(there, 0, last)
    share = (1 - np.abs(step) / (_REACH + 1)) * (place[there] == place + step)
    return Beats(of, there, share)


def find_drift(off: Floats, spread: Floats, beats: Beats, pick: Ints) -> Floats:
    """The drift at each hit, ms.

    Parameters
    ----------
    off : float64 array, shape (n,)
        How far each hit is from its usual place, ms.
    spread : float64 array, shape (n,)
        How widely such hits scatter, ms.
    beats : Beats
    pick : int64 array, shape (n,)
        Which of the lines near it each hit belongs to.
    """
    weight = 1 / np.maximum(spread, _TIGHT_MS) ** 2
    total, count = around(beats, pick, weight * clipped(off, -_SLIP_MS, _SLIP_MS), weight)
    return np.asarray(total / (count + _PRIOR))


def around(beats: Beats, pick: Ints, *columns: Floats) -> list[Floats]:
    """Sums over the half beats around each hit but its own, nearer ones counting more.

    Parameters
    ----------
    beats : Beats
    pick : int64 array, shape (n,)
    columns : float64 arrays, shape (n,)
        What is summed.
    """
    at = picked(beats.of, pick)
    count = beats.there.shape[1]
    sums = []
    for column in columns:
        here = np.bincount(at, column, count)
        sums.append(np.asarray((beats.share * here[beats.there]).sum(axis=0)[at]))
    return sums
