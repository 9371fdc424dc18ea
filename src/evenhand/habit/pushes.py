"""Pushes: bars that run ahead or behind as a whole against what is around them.

The task: tell a bar that was rushed from a section that leans. What all limbs play is off its habit
by some ms in each bar. A push is one or two bars in which the mean of that leaves what is around
it, begins and ends at once, and comes back. An easing over eight bars does not begin at once, and a
section that leans does not come back. What comes at the same place of the sections of a label, held
against their beginnings or their ends, is habit as well (a push into each chorus), and none of
these. Drummers wander from bar to bar, some by 5 ms and some by 15, so that the same 20 ms are a
push of one and nothing for the other: a few marks are weighed as in a logistic regression (see
`stretches`).

A push begins and stops at the line, up to an eighth of a bar from the bar line, at which moving it
leaves the least uneven step.

Limits: bars in which nearly nothing is struck show no push; of two pushes beside each other only
one is found; a push of 25 ms is found in about one case of two.
"""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.habit.stretches import SLIP_MS, TIGHT_MS, WEIGHTS, look_for_pushes
from evenhand.sections import Sections

#: Log-odds from which a stretch is a push.
LIMIT = -0.5

# The mean of a bar is drawn towards its surroundings by the hits that count for less and by the
# habit, which knows the push as well: by about a sixth, in the tuning half of the takes.
_DRAWN = 1.2
# How far from its bar line a push may begin and stop, bars.
_BORDER = 0.125
# How much of a push is taken back, as far as its borders go.
_TAKEN = 0.75
# A push recurs where this much of it is found in this share of the other sections of the label.
_AS_MUCH, _IN_MOST = 0.75, 0.75
# Bars on each side that it is held against there.
_SIDE = 2


@dataclass(frozen=True, eq=False)
class Pushes:
    """The pushes of a take, p of them, in time order.

    Attributes
    ----------
    first, last : int64 arrays, shape (p,)
        The bars that each takes in, both included.
    ms : float64 array, shape (p,)
        How far each runs behind what is around it; minus is ahead.
    begin, stop : float64 arrays, shape (p,)
        Where each begins and stops, in bars: near `first` and near `last` + 1.
    """

    first: Ints
    last: Ints
    ms: Floats
    begin: Floats
    stop: Floats

    def __len__(self) -> int:
        return len(self.ms)

    def of(self, place: Floats) -> Ints:
        """The push that each place (in bars) lies in; -1 for none."""
        if not len(self):
            return np.full(np.shape(place), -1)
        index = np.searchsorted(self.begin, place, side="right") - 1
        inside = (index >= 0) & (place < self.stop[np.maximum(index, 0)])
        return np.asarray(np.where(inside, index, -1))

    def at(self, place: Floats) -> Floats:
        """How far each place (in bars) is pushed, ms."""
        return np.append(self.ms, 0.0)[self.of(place)]

    def only(self, which: Ints) -> "Pushes":
        """Some of the pushes."""
        columns = self.first, self.last, self.ms, self.begin, self.stop
        return Pushes(*(column[which] for column in columns))


def find_pushes(
    off: Floats, spread: Floats, bar: Ints, within: Floats, limit: float = LIMIT
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
    within : float64 array, shape (n,)
        Where in its bar that line lies, from 0 to 1.
    limit : float
        Log-odds from which a stretch is a push.
    """
    found = look_for_pushes(off, spread, bar, within)
    score = found.marks @ np.array(list(WEIGHTS.values()))
    chosen: list[tuple[int, int, float]] = []
    for at in np.argsort(-score, kind="stable").tolist():
        if score[at] < limit:
            break
        first, last = int(found.first[at]), int(found.last[at])
        if all(last + 1 < one or first > other + 1 for one, other, _ in chosen):
            chosen.append((first, last, _DRAWN * float(found.ms[at])))
    columns = list(zip(*sorted(chosen), strict=True)) or [(), (), ()]
    first, last = np.array(columns[0], np.int64), np.array(columns[1], np.int64)
    ms = np.array(columns[2], np.float64)
    pushes = Pushes(first, last, ms, first.astype(np.float64), last + 1.0)
    return _bordered(pushes, off, spread, bar + within) if len(pushes) else pushes


def _bordered(pushes: Pushes, off: Floats, spread: Floats, place: Floats) -> Pushes:
    """Let each push begin and stop where that leaves the least uneven step."""
    lines, level, _ = _levels(off, spread, place)
    step = np.diff(level)

    def border(at: float, taken: float) -> float:
        near = np.flatnonzero(np.abs(lines[1:] - at) <= _BORDER)
        if not len(near):
            return at
        gain = np.abs(step[near]) - np.abs(step[near] - taken)
        # Of equals the one that is nearest to the bar line.
        return float(lines[1:][near[np.lexsort((np.abs(lines[1:][near] - at), -gain))[0]]])

    whole = zip(pushes.first.tolist(), pushes.last.tolist(), pushes.ms.tolist(), strict=True)
    both = [(border(a, _TAKEN * ms), border(b + 1, -_TAKEN * ms)) for a, b, ms in whole]
    return replace(
        pushes, begin=np.array([a for a, _ in both]), stop=np.array([b for _, b in both])
    )


def _levels(off: Floats, spread: Floats, place: Floats) -> tuple[Floats, Floats, Floats]:
    """Where anything is struck, how far it is off there, and how much that weighs."""
    lines, at = np.unique(place, return_inverse=True)
    weight = 1 / np.maximum(spread, TIGHT_MS) ** 2
    total = np.bincount(at, weight * np.clip(off, -SLIP_MS, SLIP_MS), len(lines))
    weights = np.bincount(at, weight, len(lines))
    return lines, total / weights, weights


def without_recurring(
    pushes: Pushes, off: Floats, spread: Floats, bar: Ints, sections: Sections
) -> Pushes:
    """Leave out the pushes that recur in other sections of the label: they are habit.

    Parameters
    ----------
    pushes : Pushes
    off, spread : float64 arrays, shape (n,)
    bar : int64 array, shape (n,)
        As in `find_pushes`.
    sections : Sections
    """
    if not len(pushes) or len(set(sections.name)) == len(sections.name):
        return pushes
    bars, level, weight = _levels(off, spread, bar.astype(np.float64))
    begins, stops = sections.bar, np.append(sections.bar[1:], sections.last + 1)

    def mean(first: int, stop: int) -> float:
        low, high = np.searchsorted(bars, (first, stop))
        return float(np.average(level[low:high], weights=weight[low:high])) if high > low else 0.0

    def size(first: int, last: int) -> float:
        """How far some bars are off what is around them."""
        return mean(first, last + 1) - (
            (mean(first - _SIDE, first) + mean(last + 1, last + 1 + _SIDE)) / 2
        )

    left = []
    for one, (first, last) in enumerate(
        zip(pushes.first.tolist(), pushes.last.tolist(), strict=True)
    ):
        own = int(np.searchsorted(begins, first, "right")) - 1
        alike = [
            other
            for other, name in enumerate(sections.name)
            if name == sections.name[max(own, 0)] and other != max(own, 0)
        ]
        wanted = size(first, last)
        again = 0.0
        for edge in (begins, stops):
            steps = [int(edge[other] - edge[max(own, 0)]) for other in alike]
            much = [size(first + step, last + step) / wanted >= _AS_MUCH for step in steps]
            again = max(again, float(np.mean(much)) if much else 0.0)
        if not (alike and again >= _IN_MOST):
            left.append(one)
    return pushes.only(np.array(left, np.int64))
