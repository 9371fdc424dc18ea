"""Pushes: bars that run ahead or behind as a whole against what is around them.

The task: tell a bar that was rushed from a section that leans. What all limbs play is off its habit
by some ms in each bar. A push is one or two bars in which the mean of that leaves what is around
it, begins and ends at once, and comes back. An easing over eight bars does not begin at once, a
section that leans does not come back, and what comes at the same place of most sections of a label
is in the habit of its places. Drummers wander from bar to bar, some by 5 ms and some by 15, so that
the same 20 ms are a push of one and nothing for the other: a few marks are weighed as in a logistic
regression. The weights were learnt from bars that were pushed by 22 to 40 ms in the tuning half of
the takes; `python -m tests.evaluation.learn_pushes FOLDER` learns them again.

Limits: bars in which nearly nothing is struck show no push; of two pushes beside each other only
one is found; a push of 25 ms is found in about one case of two.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Brief, Floats, Ints

#: What speaks for a push, and what it weighs.
WEIGHTS = {
    "always": -5.50,
    # How far it is off the two bars before and the two bars behind (10 ms).
    "size": 0.23,
    # How sharply it begins and ends: from the half bar outside to the half bar inside, the fainter
    # and the clearer of the two (10 ms).
    "faint edge": 0.64,
    "clear edge": 0.61,
    # How far it is off what lies three to five bars away, the nearer of the two sides (10 ms).
    "far away": 0.83,
    # 1 for two bars.
    "two bars": 0.45,
}
#: Log-odds from which a stretch is a push.
LIMIT = -0.8

# Bars of a push; half bars on each side that it is held against, and those further away.
_LENGTHS, _SIDE, _FAR = (1, 2), 4, 10
# A hit counts for no more than this, ms, and for less where hits scatter.
_SLIP_MS, _TIGHT_MS = 60.0, 6.0
# Less than this against either side is none, ms.
_LEAST_MS = 6.0
#: Fewest hits in a push, and on each side.
_FEWEST = 3
# The mean of a bar is drawn towards its surroundings by the hits that count for less and by the
# habit, which knows the push as well: by about a sixth, in the tuning half of the takes.
_DRAWN = 1.2


@dataclass(frozen=True, eq=False)
class Pushes(Brief):
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


@dataclass(frozen=True, eq=False)
class Stretches:
    """Stretches of one or two bars that could be pushes, k of them.

    Attributes
    ----------
    first, last : int64 arrays, shape (k,)
        Bars.
    ms : float64 array, shape (k,)
        How far each is off what is around it.
    marks : float64 array, shape (k, marks)
        In the order of `WEIGHTS`.
    """

    first: Ints
    last: Ints
    ms: Floats
    marks: Floats


def find_pushes(
    off: Floats, spread: Floats, bar: Ints, second: Bools, limit: float = LIMIT
) -> Pushes:
    """Find the pushes of a take.

    Parameters
    ----------
    off : float64 array, shape (n,)
        How far each hit is from its habit, the drift left in, ms.
    spread : float64 array, shape (n,)
        How widely such hits scatter, ms.
    bar : int64 array, shape (n,)
        The bar of the line of each hit.
    second : bool array, shape (n,)
        Which lines lie in the second half of their bar.
    limit : float
        Log-odds from which a stretch is a push.
    """
    found = look_for_pushes(off, spread, bar, second)
    score = found.marks @ np.array(list(WEIGHTS.values()))
    chosen: list[tuple[int, int, float]] = []
    for at in np.argsort(-score, kind="stable").tolist():
        if score[at] < limit:
            break
        first, last = int(found.first[at]), int(found.last[at])
        if all(last + 1 < one or first > other + 1 for one, other, _ in chosen):
            chosen.append((first, last, _DRAWN * float(found.ms[at])))
    columns = list(zip(*sorted(chosen), strict=True)) or [(), (), ()]
    return Pushes(np.array(columns[0], int), np.array(columns[1], int), np.array(columns[2], float))


def look_for_pushes(off: Floats, spread: Floats, bar: Ints, second: Bools) -> Stretches:
    """List what could be pushes, with what speaks for each (see `find_pushes`)."""
    levels = _levels(off, spread, 2 * bar + second)
    bars = np.unique(bar)
    parts = [_stretches(levels, bars, length) for length in _LENGTHS]
    return Stretches(
        *(
            np.concatenate([getattr(one, name) for one in parts])
            for name in ("first", "last", "ms", "marks")
        )
    )


@dataclass(frozen=True, eq=False)
class _Levels:
    """Half bars in which anything is struck, and running sums up to each of them."""

    place: Ints
    hits: Floats
    weight: Floats
    total: Floats

    def between(self, first: Ints, stop: Ints) -> tuple[Floats, Floats, Floats]:
        """Mean, weight and number of the hits in some stretches."""
        low, high = np.searchsorted(self.place, first), np.searchsorted(self.place, stop)
        weight = self.weight[high] - self.weight[low]
        mean = (self.total[high] - self.total[low]) / np.maximum(weight, 1e-12)
        return mean, weight, self.hits[high] - self.hits[low]


def _levels(off: Floats, spread: Floats, half_bar: Ints) -> _Levels:
    place, at = np.unique(half_bar, return_inverse=True)
    weight = 1 / np.maximum(spread, _TIGHT_MS) ** 2
    columns = np.ones(len(off)), weight, weight * np.clip(off, -_SLIP_MS, _SLIP_MS)
    sums = [np.concatenate([[0.0], np.cumsum(np.bincount(at, one, len(place)))]) for one in columns]
    return _Levels(place, *sums)


def _stretches(levels: _Levels, bars: Ints, length: int) -> Stretches:
    first, stop = 2 * bars, 2 * (bars + length)
    level, _, many = levels.between(first, stop)
    before, left, some = levels.between(first - _SIDE, first)
    behind, right, others = levels.between(stop, stop + _SIDE)
    ms = level - (before * left + behind * right) / np.maximum(left + right, 1e-12)
    way, size = np.sign(ms), np.abs(ms)
    against = np.minimum(way * (level - before), way * (level - behind))
    edges = [
        _edge(levels, way, inside, outside, against)
        for inside, outside in ((first, first - 1), (stop - 1, stop))
    ]
    further = [
        way * (level - levels.between(begin, end)[0])
        for begin, end in ((first - _FAR, first - _SIDE), (stop + _SIDE, stop + _FAR))
    ]
    told = (against > _LEAST_MS) & (np.minimum(many, np.minimum(some, others)) >= _FEWEST)
    columns = {
        "always": np.ones(len(bars)),
        "size": size / 10,
        "faint edge": np.minimum(*edges) / 10,
        "clear edge": np.maximum(*edges) / 10,
        "far away": np.minimum(*further) / 10,
        "two bars": np.full(len(bars), float(length == 2)),
    }
    marks = np.stack([columns[name] for name in WEIGHTS], axis=1)
    return Stretches(bars[told], bars[told] + length - 1, ms[told], marks[told])


def _edge(levels: _Levels, way: Floats, inside: Ints, outside: Ints, instead: Floats) -> Floats:
    """How sharply a push begins or ends: from one half bar to the next, where both are struck."""
    one, _, many = levels.between(inside, inside + 1)
    other, _, some = levels.between(outside, outside + 1)
    return np.where((many > 0) & (some > 0), way * (one - other), instead)
