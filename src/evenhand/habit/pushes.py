"""Pushes: bars that run ahead or behind as a whole against what is around them.

The task: tell a bar that was rushed from a section that leans. What all limbs play is off its habit by
some ms in each bar. A push is one or two bars in which the mean of that differs from the two bars
before and from the two bars behind by more than is plainly heard, both times the same way, and which
begins and ends at once: it differs as much from the single bars beside it. An easing over eight bars
never does, a section that leans does not come back, and a push that comes at the same place in most
sections of a label is in the habit of its places.

Limits: bars in which nearly nothing is struck show no push; of two pushes beside each other only one
is found; professionals wander by 10 ms and more from bar to bar, so that a push of 25 ms is found in
about one case of two.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints

#: How far a push is off against both sides, ms. Thresholds for one instrument of a groove are 19 to 24
#: ms; a whole drum set is heard no worse. Tried on the tuning half of the takes.
HEARD_MS = 17.0

# Bars of a push, and bars on each side that it is held against.
_LENGTHS, _SIDE = (1, 2), 2
# A hit counts for no more than this, ms: single slips make no push; for less where hits scatter.
_SLIP_MS, _TIGHT_MS = 45.0, 6.0
# The difference must be this many standard errors. Hits struck together err together: two count as one.
_SURE, _AS_ONE = 2.0, 2.0
#: Fewest hits in a push, and on each side.
_FEWEST = 3


@dataclass(frozen=True, eq=False)
class Pushes:
    """The pushes of a take, p of them, in time order.

    Attributes
    ----------
    first, last : int64 arrays, shape (p,)
        The bars that each takes in, both included.
    ms : float64 array, shape (p,)
        How far each runs behind what is around it; minus is ahead.
    """

    first: Ints
    last: Ints
    ms: Floats

    def __len__(self) -> int:
        return len(self.ms)

    def of(self, bar: Ints) -> Ints:
        """The push that each bar lies in; -1 for none."""
        if not len(self):
            return np.full(np.shape(bar), -1)
        index = np.searchsorted(self.first, bar, side="right") - 1
        inside = (index >= 0) & (bar <= self.last[np.maximum(index, 0)])
        return np.asarray(np.where(inside, index, -1))

    def at(self, bar: Ints) -> Floats:
        """How far each bar is pushed, ms."""
        return np.append(self.ms, 0.0)[self.of(bar)]


def find_pushes(off: Floats, spread: Floats, bar: Ints) -> Pushes:
    """Find the pushes of a take.

    Parameters
    ----------
    off : float64 array, shape (n,)
        How far each hit is from its habit, the drift left in, ms.
    spread : float64 array, shape (n,)
        How widely such hits scatter, ms.
    bar : int64 array, shape (n,)
        The bar of the line of each hit.
    """
    found: list[tuple[float, int, int, float]] = []
    if len(bar):
        levels = _levels(off, spread, bar)
        for length in _LENGTHS:
            ms, sure = _standing_out(levels, length)
            found += [
                (-sure[at], int(levels.bar[at]), int(levels.bar[at]) + length - 1, float(ms[at]))
                for at in np.flatnonzero(sure >= _SURE).tolist()
            ]
    chosen: list[tuple[int, int, float]] = []
    for _, first, last, ms in sorted(found):
        if all(last + 1 < one or first > other + 1 for one, other, _ in chosen):
            chosen.append((first, last, ms))
    columns = list(zip(*sorted(chosen), strict=True)) or [(), (), ()]
    return Pushes(np.array(columns[0], int), np.array(columns[1], int), np.array(columns[2], float))


@dataclass(frozen=True, eq=False)
class _Levels:
    """Bars in which anything is struck, and running sums up to each of them."""

    bar: Ints
    hits: Floats
    weight: Floats
    total: Floats

    def between(self, first: Ints, stop: Ints) -> tuple[Floats, Floats, Floats]:
        """Mean, weight and number of the hits in some stretches of bars."""
        low, high = np.searchsorted(self.bar, first), np.searchsorted(self.bar, stop)
        weight = self.weight[high] - self.weight[low]
        mean = (self.total[high] - self.total[low]) / np.maximum(weight, 1e-12)
        return mean, weight, self.hits[high] - self.hits[low]


def _levels(off: Floats, spread: Floats, bar: Ints) -> _Levels:
    place, at = np.unique(bar, return_inverse=True)
    weight = 1 / np.maximum(spread, _TIGHT_MS) ** 2
    columns = np.ones(len(off)), weight, weight * np.clip(off, -_SLIP_MS, _SLIP_MS)
    sums = [np.concatenate([[0.0], np.cumsum(np.bincount(at, one))]) for one in columns]
    return _Levels(place, *sums)


def _standing_out(levels: _Levels, length: int) -> tuple[Floats, Floats]:
    """How far each stretch is off against what is around it, and how surely; 0 if it is no push."""
    first, stop = levels.bar, levels.bar + length
    level, inside, many = levels.between(first, stop)
    before, left, some = levels.between(first - _SIDE, first)
    behind, right, others = levels.between(stop, stop + _SIDE)
    way = np.sign(level - before)
    size = np.minimum(way * (level - before), way * (level - behind))
    beginning = levels.between(first, first + 1)[0] - levels.between(first - 1, first)[0]
    ending = levels.between(stop - 1, stop)[0] - levels.between(stop, stop + 1)[0]
    told = (np.minimum(size, np.minimum(way * beginning, way * ending)) >= HEARD_MS) & (
        np.minimum(many, np.minimum(some, others)) >= _FEWEST
    )
    least = np.maximum(np.minimum(left, right), 1e-12)
    error = np.sqrt(_AS_ONE / np.maximum(inside, 1e-12) + _AS_ONE / least)
    beside = (before * left + behind * right) / np.maximum(left + right, 1e-12)
    return level - beside, np.where(told, size / error, 0.0)
