"""What could be a push, and what speaks for it.

Each stretch of one or two whole bars is held against the two bars on both sides and against those
further away. The weights were learnt from bars that were pushed by 22 to 40 ms in the tuning half
of the takes; `python -m tests.evaluation.learn_pushes FOLDER` learns them again.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints, clipped, numbered

#: What speaks for a push, and what it weighs.
WEIGHTS = {
    "always": -4.98,
    # How sharply it begins and ends: from the half bar outside to the half bar inside, the fainter
    # and the clearer of the two (10 ms).
    "faint edge": 0.29,
    "clear edge": 0.52,
    # The fainter of the steps across its borders: from the last line struck an eighth of a bar or
    # more outside to the first one inside (10 ms).
    "seam": 0.76,
    # How far it is off what lies three to five bars away, the nearer of the two sides (10 ms).
    "far away": 0.90,
    # 1 for two bars.
    "two bars": 0.44,
}

# Bars of a push; bars on each side that it is held against, and those further away.
_LENGTHS, _SIDE, _FAR = (1, 2), 2, 5
# Parts of a bar in which playing is measured: a half, for edges; and an eighth, for the steps at
# the borders and as long as a push may take to come and go.
_PARTS, _HALF, _RAMP = 16, 8, 2
# Edges around the beginning of a stretch and around its end; and what is measured between them: the
# stretch, its two sides, the half bars inside and outside of its ends, what lies further away.
_BEFORE = np.array([-_PARTS * _FAR, -_PARTS * _SIDE, -_HALF, 0, _HALF])[:, None]
_BEHIND = -_BEFORE[::-1]
_FROM, _TO = np.array([(3, 6), (1, 3), (6, 8), (3, 4), (5, 6), (2, 3), (6, 7), (0, 1), (8, 9)]).T
# Bars that are looked at in one go: memory goes by these.
_AT_ONCE = 1024
#: A hit counts for no more than this, ms, and for less where hits scatter.
SLIP_MS, TIGHT_MS = 60.0, 6.0
# Less than this against either side is none, ms.
_LEAST_MS = 6.0
#: Fewest hits in a push, and on each side.
_FEWEST = 3


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


def look_for_pushes(off: Floats, spread: Floats, bar: Ints, within: Floats) -> Stretches:
    """List what could be pushes, with what speaks for each (see `find_pushes`)."""
    part = np.minimum(np.floor(within * _PARTS), _PARTS - 1).astype(np.int64)
    levels = _parts(off, spread, _PARTS * bar + part)
    bars, _ = numbered(bar)
    blocks = [
        _stretches(levels, bars[first : first + _AT_ONCE])
        for first in range(0, max(len(bars), 1), _AT_ONCE)
    ]
    return Stretches(*map(np.concatenate, zip(*blocks, strict=True)))


@dataclass(frozen=True, eq=False)
class _Parts:
    """Parts of bars in which anything is struck, p of them.

    Attributes
    ----------
    place : int64 array, shape (p,)
        In parts of bars, in order.
    sums : float64 array, shape (3, p + 1)
        Number, weight and weighed distances of the hits before each.
    """

    place: Ints
    sums: Floats

    def upto(self, place: Ints) -> Floats:
        """The sums of what lies before some places, a row for each of them."""
        return self.sums.take(np.searchsorted(self.place, place), axis=1)

    def seams(self, begin: Ints, end: Ints) -> tuple[Floats, Floats]:
        """How playing goes on where it is next struck, and was where it was last struck."""
        last = len(self.place) - 1
        onwards = np.minimum(np.searchsorted(self.place, begin), last)
        until = np.maximum(np.searchsorted(self.place, end, "right") - 1, 0)
        first = np.concatenate([self.place[onwards], self.place[until] + 1 - _RAMP])
        mean = _mean(self.upto(first + _RAMP) - self.upto(first))
        return mean[: len(begin)], mean[len(begin) :]


def _mean(sums: Floats) -> Floats:
    return np.asarray(sums[2] / np.maximum(sums[1], 1e-12))


def _parts(off: Floats, spread: Floats, place: Ints) -> _Parts:
    place, at = numbered(place)
    weight = 1 / np.maximum(spread, TIGHT_MS) ** 2
    columns = np.ones(len(off)), weight, weight * clipped(off, -SLIP_MS, SLIP_MS)
    sums = np.zeros((len(columns), len(place) + 1))
    for row, column in zip(sums, columns, strict=True):
        np.bincount(at, column, len(place)).cumsum(out=row[1:])
    return _Parts(place, sums)


def _stretches(levels: _Parts, bars: Ints) -> tuple[Ints, Ints, Floats, Floats]:
    """The columns of `Stretches` for those that begin in some bars."""
    length = np.repeat(_LENGTHS, len(bars))
    bars = np.tile(bars, len(_LENGTHS))
    first, stop = _PARTS * bars, _PARTS * (bars + length)
    # All edges are looked up at once, and all means taken: from far before to far behind.
    sums = levels.upto(np.concatenate([first + _BEFORE, stop + _BEHIND]))
    sums = sums.take(_TO, axis=1) - sums.take(_FROM, axis=1)
    (many, some, others), (_, left, right) = sums[0, :3], sums[1, :3]
    mean = _mean(sums)
    level, before, behind = mean[:3]
    ms = level - (before * left + behind * right) / np.maximum(left + right, 1e-12)
    way = np.sign(ms)
    against = np.minimum(way * (level - before), way * (level - behind))
    # From one half bar to the next, where both are struck.
    struck = (sums[0, 3:5] > 0) & (sums[0, 5:7] > 0)
    edges = np.where(struck, way * (mean[3:5] - mean[5:7]), against)
    further = way * (level - mean[7:])
    begin, end = levels.seams(
        np.array((first, stop + _RAMP - 1)), np.array((first - _RAMP, stop - 1))
    )
    seam = np.minimum(way * (begin[0] - end[0]), way * (end[1] - begin[1]))
    told = (against > _LEAST_MS) & (np.minimum(many, np.minimum(some, others)) >= _FEWEST)
    columns = {
        "always": np.ones(len(bars)),
        "faint edge": edges.min(axis=0) / 10,
        "clear edge": edges.max(axis=0) / 10,
        "seam": seam / 10,
        "far away": further.min(axis=0) / 10,
        "two bars": (length == 2).astype(np.float64),
    }
    marks = np.stack([columns[name][told] for name in WEIGHTS], axis=1)
    return bars[told], bars[told] + length[told] - 1, ms[told], marks
