"""Intervals as they are heard: from what is struck before to a stroke, and from it to what follows.

Neither lines nor the habit are asked here, so that a line that was taken wrongly can't speak for
itself: an interval is held against the same interval of the bars nearby, from the hit of the piece
that is nearest to the same place there to what is struck nearest to where the neighbour is.

Limits: an interval that fewer than four of the bars nearby have tells nothing. Bars of another
length are taken for as long as these.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from evenhand.columns import Bools, Floats, Ints, clipped, differences, indices
from evenhand.habit.groups import middles
from evenhand.take import Timeline

# What is struck within so many ms is heard as one; an interval of another bar whose ends lie
# further off than that is another interval; longer intervals are not heard as such; ms.
_ONE_MS, _SAME_MS, _LONGEST_MS = 30.0, 60.0, 1500.0
# Bars on each side in which an interval is looked for, and fewest in which it must be found.
_BARS, _FEWEST = 24, 4
# Strokes that are looked at in one go: memory goes by these times the bars.
_AT_ONCE = 512
# From what sounds to what sounds before and behind.
_SIDES = np.array([[-1], [1]])
# An interval that changes by less does not change, ms.
_SLACK_MS = 0.5


@dataclass(frozen=True, eq=False)
class Sounding:
    """When n hits sound, and s strokes among them.

    Attributes
    ----------
    bars : float64 array, shape (n,)
        In bars: the number of the bar, and where in it.
    bar_ms : float64 array, shape (n,)
        How long that bar is, ms.
    voice : int64 array, shape (n,)
    reference : int64 array, shape (s,)
        The hit that stands for each stroke.
    """

    bars: Floats
    bar_ms: Floats
    voice: Ints
    reference: Ints

    def carried(self, move: Floats, alone: Bools) -> Floats:
        """How far each hit moves, ms, if strokes do: those that go together carry what is between.

        Parameters
        ----------
        move : float64 array, shape (s,)
        alone : bool array, shape (s,)
            Which strokes move with their own limb only.
        """
        if not move.any():
            return np.zeros(len(self.bars))
        place, order = self._strokes
        shift = np.interp(self.bars, place, np.where(alone, 0.0, move)[order])
        shift[self.reference] = move
        return np.asarray(shift, np.float64)

    @cached_property
    def _strokes(self) -> tuple[Floats, Ints]:
        """The bars of the strokes in their order, and that order."""
        place = self.bars[self.reference]
        order = np.argsort(place, kind="stable")
        return place[order], order

    @cached_property
    def room(self) -> float:
        """More bars than there are between any two that are looked at."""
        return float(2 * (np.abs(self.bars).max(initial=0.0) + _BARS + 1))

    @cached_property
    def of_voices(self) -> tuple[Floats, Floats, Ints]:
        """The bars of the strokes, voice after voice: in a key of their own; where each begins."""
        place, voice = self.bars[self.reference], self.voice[self.reference]
        order = np.lexsort((place, voice))
        place, voice = place[order], voice[order]
        begin = np.searchsorted(voice, np.arange(voice.max(initial=-1) + 2))
        return place, place + voice * self.room, begin

    @cached_property
    def onsets(self) -> "HeardAsOne":
        """What sounds together."""
        order = np.argsort(self.bars, kind="stable")
        at = self.bars[order]
        gap = differences(at, -np.inf) * self.bar_ms[order]
        of_hit = np.empty(len(order), np.int64)
        of_hit[order] = np.cumsum(gap > _ONE_MS) - 1
        many = np.bincount(of_hit)
        return HeardAsOne(np.bincount(of_hit, self.bars) / many, many, of_hit)


@dataclass(frozen=True, eq=False)
class HeardAsOne:
    """What sounds together, k times.

    Attributes
    ----------
    bars : float64 array, shape (k,)
        When, in the mean of its hits.
    many : int64 array, shape (k,)
        How many hits that is.
    of_hit : int64 array, shape (n,)
        That of each hit.
    """

    bars: Floats
    many: Ints
    of_hit: Ints

    def mean(self, shift: Floats) -> Floats:
        """How far each moves, in the mean of its hits, ms: shape (k,).

        Parameters
        ----------
        shift : float64 array, shape (n,)
        """
        return np.asarray(np.bincount(self.of_hit, shift) / self.many)


def find_sounding(tick: Floats, voice: Ints, reference: Ints, time: Timeline) -> Sounding:
    """Find when hits sound.

    Parameters
    ----------
    tick : float64 array, shape (n,)
    voice : int64 array, shape (n,)
    reference : int64 array, shape (s,)
    time : Timeline
    """
    bars = time.meter.bars_at(tick)
    return Sounding(
        bars.number + (tick - bars.start) / (bars.stop - bars.start),
        time.ms(bars.stop) - time.ms(bars.start),
        voice,
        reference,
    )


def evened_by(sounding: Sounding, shift: Floats, last: Floats | None = None) -> Floats:
    """By how much shifts bring the intervals beside strokes nearer to what they usually are, ms.

    Parameters
    ----------
    sounding : Sounding
    shift : float64 array, shape (n,)
        How far each hit moves, ms.
    last : float64 array, shape (n,), optional
        How far each was to move when this was asked last.

    Returns
    -------
    float64 array, shape (s,)
        Both intervals together, minus where they get further off; NaN where no interval changes,
        or nothing is known of it, or all there is as it was last.
    """
    reference = sounding.reference
    gain = np.full(len(reference), np.nan)
    moves = indices(shift[reference])
    if not len(moves):
        return gain
    own, level = sounding.onsets.of_hit[reference], sounding.onsets.mean(shift)
    beside = clipped(own + _SIDES, 0, len(level) - 1)
    change = np.abs(shift[reference] - level[beside]).max(axis=0)
    which = (shift[reference] != 0) & (change > _SLACK_MS)
    if last is not None:
        other = sounding.onsets.mean(last) != level
        which &= (shift != last)[reference] | other[own] | other[beside].any(axis=0)
    asked = indices(which)
    for first in range(0, len(asked), _AT_ONCE):
        some = asked[first : first + _AT_ONCE]
        gain[some] = _gains(sounding, level, shift, some)
    return gain


def _gains(sounding: Sounding, level: Floats, shift: Floats, some: Ints) -> Floats:
    """By how much the intervals beside some of the strokes get nearer to what they usually are."""
    hit, onsets = sounding.reference[some], sounding.onsets
    at, length, own = sounding.bars[hit], sounding.bar_ms[hit], onsets.of_hit[hit]
    same = _SAME_MS / length[:, None]
    steps = np.concatenate([np.arange(-_BARS, 0), np.arange(1, _BARS + 1)])
    alike = _alike(sounding, some, steps)
    there = np.abs(alike - at[:, None] - steps) <= same
    # Both sides at once: before, and behind.
    beside = clipped(own + _SIDES, 0, len(level) - 1)
    place = onsets.bars[beside]
    wanted = place[:, :, None] + steps
    other = nearest_of(onsets.bars, wanted)
    both = (there & (np.abs(other - wanted) <= same)).nonzero()
    interval = (alike - other) * length[:, None]
    usual, many = middles(interval[both], both[0] * len(some) + both[1], beside.size)
    step = (at - place) * length
    heard = (beside != own) & (np.abs(step) <= _LONGEST_MS)
    heard &= many.reshape(step.shape) >= _FEWEST
    before = step - usual.reshape(step.shape)
    after = before + shift[hit] - level[beside]
    gain = np.where(heard, np.abs(before) - np.abs(after), 0.0).sum(axis=0)
    return np.where(heard.any(axis=0), gain, np.nan)


def _alike(sounding: Sounding, some: Ints, steps: Ints) -> Floats:
    """Of the same voice, the stroke nearest to where each would be some bars away, bars."""
    place, key, begin = sounding.of_voices
    hit = sounding.reference[some]
    voice = sounding.voice[hit][:, None]
    wanted = sounding.bars[hit][:, None] + steps
    first, last = begin[voice], begin[voice + 1] - 1
    right = clipped(np.searchsorted(key, wanted + voice * sounding.room), first, last)
    return _nearer(place[np.maximum(right - 1, first)], place[right], wanted)


def nearest_of(values: Floats, wanted: Floats) -> Floats:
    """Of sorted values, one at least, the nearest to each that is wanted."""
    right = np.minimum(np.searchsorted(values, wanted), len(values) - 1)
    return _nearer(values[np.maximum(right - 1, 0)], values[right], wanted)


def _nearer(low: Floats, high: Floats, wanted: Floats) -> Floats:
    return np.where(np.abs(low - wanted) <= np.abs(high - wanted), low, high)
