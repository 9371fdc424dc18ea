"""Intervals as they are heard: from what is struck before to a stroke, and from it to what follows.

Neither lines nor the habit are asked here, so that a line that was taken wrongly can't speak for
itself: an interval is held against the same interval of the bars nearby, from the hit of the piece
that is nearest to the same place there to what is struck nearest to where the neighbour is.

Limits: an interval that fewer than four of the bars nearby have tells nothing. Bars of another
length are taken for as long as these.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, clipped, indices
from evenhand.habit.groups import middles
from evenhand.take import Timeline

# What is struck within so many ms is heard as one; an interval of another bar whose ends lie
# further off than that is another interval; longer intervals are not heard as such; ms.
_ONE_MS, _SAME_MS, _LONGEST_MS = 30.0, 60.0, 1500.0
# Bars on each side in which an interval is looked for, and fewest in which it must be found.
_BARS, _FEWEST = 24, 4
# Strokes that are looked at in one go: memory goes by these times the bars.
_AT_ONCE = 1024
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
        place = self.bars[self.reference]
        order = np.argsort(place, kind="stable")
        shift = np.interp(self.bars, place[order], np.where(alone, 0.0, move)[order])
        shift[self.reference] = move
        return np.asarray(shift, np.float64)


@dataclass(frozen=True, eq=False)
class _Onsets:
    """What sounds together, k times.

    Attributes
    ----------
    bars, shift : float64 arrays, shape (k,)
        When, and how far it moves, in the mean of its hits; bars and ms.
    own : int64 array, shape (s,)
        That of each stroke.
    """

    bars: Floats
    shift: Floats
    own: Ints


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


def evened_by(sounding: Sounding, shift: Floats) -> Floats:
    """By how much shifts bring the intervals beside strokes nearer to what they usually are, ms.

    Parameters
    ----------
    sounding : Sounding
    shift : float64 array, shape (n,)
        How far each hit moves, ms.

    Returns
    -------
    float64 array, shape (s,)
        Both intervals together, minus where they get further off; NaN where no interval changes,
        or nothing is known of it.
    """
    reference = sounding.reference
    gain = np.full(len(reference), np.nan)
    moves = indices(shift[reference])
    if not len(moves):
        return gain
    onsets = _onsets(sounding, shift)
    own, begin = onsets.own[moves], shift[reference[moves]]
    last = len(onsets.bars) - 1
    apart = [np.abs(begin - onsets.shift[clipped(own + side, 0, last)]) for side in (-1, 1)]
    asked = moves[np.maximum(*apart) > _SLACK_MS]
    for first in range(0, len(asked), _AT_ONCE):
        some = asked[first : first + _AT_ONCE]
        gain[some] = _gains(sounding, onsets, shift, some)
    return gain


def _onsets(sounding: Sounding, shift: Floats) -> _Onsets:
    order = np.argsort(sounding.bars, kind="stable")
    at = sounding.bars[order]
    sorted_at = np.cumsum(np.diff(at, prepend=-np.inf) * sounding.bar_ms[order] > _ONE_MS) - 1
    many = np.bincount(sorted_at)
    of_hit = np.empty(len(order), np.int64)
    of_hit[order] = sorted_at
    return _Onsets(
        np.bincount(sorted_at, at) / many,
        np.bincount(sorted_at, shift[order]) / many,
        of_hit[sounding.reference],
    )


def _gains(sounding: Sounding, onsets: _Onsets, shift: Floats, some: Ints) -> Floats:
    """By how much the intervals beside some of the strokes get nearer to what they usually are."""
    hit, own = sounding.reference[some], onsets.own[some]
    at, length = sounding.bars[hit], sounding.bar_ms[hit]
    same = _SAME_MS / length[:, None]
    steps = np.concatenate([np.arange(-_BARS, 0), np.arange(1, _BARS + 1)])
    alike = _alike(sounding, some, steps)
    there = np.abs(alike - at[:, None] - steps) <= same
    gain, known = np.zeros(len(some)), np.zeros(len(some), np.bool_)
    for side in (-1, 1):
        beside = clipped(own + side, 0, len(onsets.bars) - 1)
        place = onsets.bars[beside]
        wanted = place[:, None] + steps
        other = nearest_of(onsets.bars, wanted)
        both = there & (np.abs(other - wanted) <= same)
        usual, many = middles(
            ((alike - other) * length[:, None])[both], both.nonzero()[0], len(some)
        )
        step = (at - place) * length
        heard = (beside != own) & (np.abs(step) <= _LONGEST_MS) & (many >= _FEWEST)
        before = step - usual
        after = before + shift[hit] - onsets.shift[beside]
        gain += np.where(heard, np.abs(before) - np.abs(after), 0.0)
        known |= heard
    return np.where(known, gain, np.nan)


def _alike(sounding: Sounding, some: Ints, steps: Ints) -> Floats:
    """Of the same voice, the stroke nearest to where each would be some bars away, bars."""
    place, voice = sounding.bars[sounding.reference], sounding.voice[sounding.reference]
    wanted = place[some][:, None] + steps
    alike = np.empty(wanted.shape)
    for one in set(voice[some].tolist()):
        mine = voice[some] == one
        alike[mine] = nearest_of(np.sort(place[voice == one]), wanted[mine])
    return alike


def nearest_of(values: Floats, wanted: Floats) -> Floats:
    """Of sorted values, one at least, the nearest to each that is wanted."""
    right = np.minimum(np.searchsorted(values, wanted), len(values) - 1)
    low, high = values[np.maximum(right - 1, 0)], values[right]
    return np.asarray(np.where(np.abs(low - wanted) <= np.abs(high - wanted), low, high))
