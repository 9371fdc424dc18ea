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
    length = np.repeat(_LENGTHS, len(bars))
    return _stretches(levels, np.tile(bars, len(_LENGTHS)), length)


@dataclass(frozen=True, eq=False)
class _Parts:
    """Parts of bars in which anything is struck, and running sums up to each of them."""

    place: Ints
    hits: Floats
    weight: Floats
    total: Floats

    def upto(self, place: Ints) -> "_Sums":
        """The sums up to some places."""
        at = np.searchsorted(self.place, place)
        return _Sums(self.hits[at], self.weight[at], self.total[at])

    def between(self, first: Ints, stop: Ints) -> Floats:
        """Mean of the hits in some stretches."""
        sums = self.upto(np.stack((first, stop)))
        return sums.between(0, 1)[0]

    def begin(self, place: Ints) -> Floats:
        """How the playing goes on where it is next struck from some places on."""
        at = self.place[np.minimum(np.searchsorted(self.place, place), len(self.place) - 1)]
        return self.between(at, at + _RAMP)

    def end(self, place: Ints) -> Floats:
        """How the playing was where it was last struck up to some places, these included."""
        at = self.place[np.maximum(np.searchsorted(self.place, place, "right") - 1, 0)]
        return self.between(at - _RAMP + 1, at + 1)


@dataclass(frozen=True, eq=False)
class _Sums:
    """Sums up to the edges of some bars: one row for each edge."""

    hits: Floats
    weight: Floats
    total: Floats

    def between(self, one: int, other: int) -> tuple[Floats, Floats, Floats]:
        """Mean, weight and number of the hits from one edge of each bar to another."""
        weight = self.weight[other] - self.weight[one]
        mean = (self.total[other] - self.total[one]) / np.maximum(weight, 1e-12)
        return mean, weight, self.hits[other] - self.hits[one]


def _parts(off: Floats, spread: Floats, place: Ints) -> _Parts:
    place, at = numbered(place)
    weight = 1 / np.maximum(spread, TIGHT_MS) ** 2
    columns = np.ones(len(off)), weight, weight * clipped(off, -SLIP_MS, SLIP_MS)
    sums = [np.concatenate([[0.0], np.cumsum(np.bincount(at, one, len(place)))]) for one in columns]
    return _Parts(place, *sums)


def _stretches(levels: _Parts, bars: Ints, length: Ints) -> Stretches:
    first, stop = _PARTS * bars, _PARTS * (bars + length)
    side, far = _PARTS * _SIDE, _PARTS * _FAR
    # All edges are looked up at once: from far before to far behind.
    sums = levels.upto(
        np.stack(
            (
                *(first - far, first - side, first - _HALF, first, first + _HALF),
                *(stop - _HALF, stop, stop + _HALF, stop + side, stop + far),
            )
        )
    )
    level, _, many = sums.between(3, 6)
    before, left, some = sums.between(1, 3)
    behind, right, others = sums.between(6, 8)
    ms = level - (before * left + behind * right) / np.maximum(left + right, 1e-12)
    way = np.sign(ms)
    against = np.minimum(way * (level - before), way * (level - behind))
    edges = [_edge(sums, way, *ends, against) for ends in (((3, 4), (2, 3)), ((5, 6), (6, 7)))]
    further = [way * (level - sums.between(*ends)[0]) for ends in ((0, 1), (8, 9))]
    seam = np.minimum(
        way * (levels.begin(first) - levels.end(first - _RAMP)),
        way * (levels.end(stop - 1) - levels.begin(stop + _RAMP - 1)),
    )
    told = (against > _LEAST_MS) & (np.minimum(many, np.minimum(some, others)) >= _FEWEST)
    columns = {
        "always": np.ones(len(bars)),
        "faint edge": np.minimum(*edges) / 10,
        "clear edge": np.maximum(*edges) / 10,
        "seam": seam / 10,
        "far away": np.minimum(*further) / 10,
        "two bars": (length == 2).astype(np.float64),
    }
    marks = np.stack([columns[name] for name in WEIGHTS], axis=1)
    return Stretches(bars[told], bars[told] + length[told] - 1, ms[told], marks[told])


def _edge(
    sums: _Sums, way: Floats, inside: tuple[int, int], outside: tuple[int, int], instead: Floats
) -> Floats:
    """How sharply a push begins or ends: from one half bar to the next, where both are struck."""
    one, _, many = sums.between(*inside)
    other, _, some = sums.between(*outside)
    return np.where((many > 0) & (some > 0), way * (one - other), instead)
