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

from dataclasses import dataclass, fields, replace

import numpy as np

from evenhand.columns import Brief, Floats, Ints, clipped, indices, ranked
from evenhand.habit.borders import find_borders
from evenhand.habit.intervals import Sounding, evened_by
from evenhand.habit.stretches import SLIP_MS, TIGHT_MS, WEIGHTS, look_for_pushes
from evenhand.sections import Sections

#: Log-odds from which a stretch is a push, what is heard at its borders included.
LIMIT = -0.8
#: What it weighs, in log-odds, that taking a push back brings the intervals at its borders nearer
#: to what they usually are by as much as it is large; it counts for once that at the most.
HEARD = 1.0

# Log-odds from which a stretch may be one: what is heard can add no more.
_MAY_BE = LIMIT - HEARD

# The mean of a bar is drawn towards its surroundings by the hits that count for less and by the
# habit, which knows the push as well: by about a sixth, in the tuning half of the takes.
_DRAWN = 1.2
# How much of a push is taken back, as far as its borders go.
_TAKEN = 0.75
# A push may make the steps at a border less even by this share of itself: what is struck on a line
# or two tells little.
_SEAM = -0.1
# A push recurs where this much of it is found in this share of the other sections of the label.
_AS_MUCH, _IN_MOST = 0.75, 0.75
# Bars on each side that it is held against there.
_SIDE = 2


@dataclass(frozen=True, eq=False)
class Pushes(Brief):
    """The pushes of a take, p of them, in time order.

    Attributes
    ----------
    first, last : int64 arrays, shape (p,)
        The bars that each takes in, both included.
    ms : float64 array, shape (p,)
        How far each runs behind what is around it; minus is ahead.
    begin, stop : float64 arrays, shape (p,)
        Where each begins and stops, in bars: near `first` and near `last` + 1.
    coming, going : float64 arrays, shape (p,)
        How long before that it comes and after that it goes, in bars: 0 for at once.
    score : float64 array, shape (p,)
        Log-odds that it is one.
    """

    first: Ints
    last: Ints
    ms: Floats
    begin: Floats
    stop: Floats
    coming: Floats
    going: Floats
    score: Floats

    def __len__(self) -> int:
        return len(self.ms)

    def at(self, place: Floats) -> tuple[Ints, Floats]:
        """The push that each place lies in, coming and going included; how far it is pushed.

        Parameters
        ----------
        place : float64 array, shape (n,)
            In bars.

        Returns
        -------
        push : int64 array, shape (n,)
            -1 for none.
        ms : float64 array, shape (n,)
        """
        push, ms = np.full(len(place), -1), np.zeros(len(place))
        if len(self):
            index = np.searchsorted(self.begin - self.coming, place, side="right") - 1
            # Most of a take lies in none: only what is behind the last to begin is looked at.
            near = indices((index >= 0) & (place <= (self.stop + self.going)[index]))
            own = index[near]
            share = self._share(own, place[near])
            push[near] = np.where(share > 0, own, -1)
            ms[near] = share * self.ms[own]
        return push, ms

    def _share(self, push: Ints, place: Floats) -> Floats:
        """How much of a push there is at a place."""
        return rises(place, self.begin[push], self.coming[push]) * falls(
            place, self.stop[push], self.going[push]
        )

    def only(self, which: Ints) -> "Pushes":
        """Some of the pushes."""
        return Pushes(*(getattr(self, one.name)[which] for one in fields(self)))


def rises(place: Floats, begin: float | Floats, coming: float | Floats) -> Floats:
    """From 0 before something comes to 1 where it has begun."""
    slope = 1 + (place - begin) / np.maximum(coming, 1e-12)
    return np.where(place >= begin, 1.0, np.clip(slope, 0.0, 1.0))


def falls(place: Floats, stop: float | Floats, going: float | Floats) -> Floats:
    """From 1 before something stops to 0 where it has gone."""
    slope = 1 - (place - stop) / np.maximum(going, 1e-12)
    return np.where(place < stop, 1.0, np.where(going > 0, np.clip(slope, 0.0, 1.0), 0.0))


def find_pushes(
    off: Floats, spread: Floats, bar: Ints, within: Floats, limit: float = _MAY_BE
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
    chosen: list[tuple[int, int, float, float]] = []
    for at in np.argsort(-score, kind="stable").tolist():
        if score[at] < limit:
            break
        first, last = int(found.first[at]), int(found.last[at])
        if all(last + 1 < one or first > other + 1 for one, other, *_ in chosen):
            chosen.append((first, last, _DRAWN * float(found.ms[at]), float(score[at])))
    columns = list(zip(*sorted(chosen), strict=True)) or [(), (), (), ()]
    begin, end = np.array(columns[0], np.int64), np.array(columns[1], np.int64)
    ms, odds = np.array(columns[2], np.float64), np.array(columns[3], np.float64)
    none = np.zeros(len(ms))
    stop = (end + 1).astype(np.float64)
    return Pushes(begin, end, ms, begin.astype(np.float64), stop, none, none, odds)


def with_borders(pushes: Pushes, off: Floats, spread: Floats, place: Floats) -> Pushes:
    """Let each push begin and stop where that leaves the least uneven steps.

    A push whose steps across its borders would be clearly less even than they are is left out.

    Parameters
    ----------
    pushes : Pushes
    off, spread : float64 arrays, shape (n,)
        As in `find_pushes`.
    place : float64 array, shape (n,)
        Where the line of each hit lies, in bars.
    """
    if not len(pushes):
        return pushes
    lines, level, _ = _levels(off, spread, place)
    count = len(pushes)
    at = np.concatenate([pushes.first, pushes.last + 1]).astype(np.float64)
    way = np.repeat([1, -1], count)
    border, slow, gain = find_borders(lines, level, at, way, np.tile(_TAKEN * pushes.ms, 2))
    placed = replace(
        pushes,
        begin=border[:count],
        stop=border[count:],
        coming=slow[:count],
        going=slow[count:],
    )
    return placed.only(indices(np.minimum(gain[:count], gain[count:]) >= _SEAM))


def _levels(off: Floats, spread: Floats, place: Floats) -> tuple[Floats, Floats, Floats]:
    """Where anything is struck, how far it is off there, and how much that weighs."""
    lines, at = ranked(place)
    weight = 1 / np.maximum(spread, TIGHT_MS) ** 2
    total = np.bincount(at, weight * clipped(off, -SLIP_MS, SLIP_MS), len(lines))
    weights = np.asarray(np.bincount(at, weight, len(lines)), np.float64)
    return lines, total / weights, weights


def as_heard(pushes: Pushes, sounding: Sounding, place: Floats, limit: float = LIMIT) -> Pushes:
    """Leave out the pushes that are unlikely once the intervals at their borders are heard.

    Parameters
    ----------
    pushes : Pushes
    sounding : Sounding
    place : float64 array, shape (n,)
        Where the line of each hit lies, in bars.
    limit : float
        Log-odds from which a stretch is a push.
    """
    if not len(pushes):
        return pushes
    push, ms = pushes.at(place)
    gain = evened_by(sounding, -_TAKEN * ms)
    of_stroke = push[sounding.reference]
    told = (of_stroke >= 0) & ~np.isnan(gain)
    gained = np.bincount(of_stroke[told], gain[told], len(pushes)) / np.abs(pushes.ms)
    score = pushes.score + HEARD * np.clip(gained, -1.0, 1.0)
    return pushes.only(np.flatnonzero(score >= limit))


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
    names = list(dict.fromkeys(sections.kinds))
    if not len(pushes) or len(names) == len(sections.kinds):
        return pushes
    kind = np.array([names.index(one) for one in sections.kinds])
    bars, level, weight = _levels(off, spread, bar.astype(np.float64))
    begins, stops = sections.bar, np.append(sections.bar[1:], sections.last + 1)

    summed = np.append(0.0, np.cumsum(level * weight))
    weights = np.append(0.0, np.cumsum(weight))

    def mean(first: Ints, stop: Ints) -> Floats:
        low, high = np.searchsorted(bars, first), np.searchsorted(bars, stop)
        heavy = np.where(high > low, weights[high] - weights[low], 1.0)
        return np.where(high > low, (summed[high] - summed[low]) / heavy, 0.0)

    def size(first: Ints, last: Ints) -> Floats:
        """How far some bars are off what is around them."""
        return mean(first, last + 1) - (
            (mean(first - _SIDE, first) + mean(last + 1, last + 1 + _SIDE)) / 2
        )

    first, last = pushes.first[:, None], pushes.last[:, None]
    own = np.maximum(np.searchsorted(begins, pushes.first, "right") - 1, 0)
    alike = (kind[own][:, None] == kind) & (own[:, None] != np.arange(len(kind)))
    wanted, many = size(first, last), np.maximum(alike.sum(axis=1), 1)
    again = np.zeros(len(pushes))
    for edge in (begins, stops):
        step = edge - edge[own][:, None]
        much = alike & (size(first + step, last + step) / wanted >= _AS_MUCH)
        again = np.maximum(again, much.sum(axis=1) / many)
    return pushes.only(indices(again < _IN_MOST))
