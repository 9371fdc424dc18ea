"""Where bars begin and how long they are, once the beat is known.

That is a question of what is played where: kicks and crashes mark the bar, snares the backbeat, and
players tend to begin on a bar. The weights of these marks were found by logistic regression on the
tuning part of the takes (docs/assess.md); they are few, so that they say what any drummer would.
"""

import math
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, differences
from evenhand.pulse.recurrence import Onsets

# Weights of the marks of a bar: kick on its first beat, snare on the backbeat, crash on the first
# beat, the first hit of the take on it.
_BAR_WEIGHTS = (0.7, 0.75, 1.4, 1.35)
# How near to the first beat a first hit must be, in beats.
_FIRST = 0.15
# Four beats are a bar unless bars of another length repeat themselves that much better; with this
# much more there is no doubt.
_CLEARLY, _SURELY = 0.12, 0.08
# Silences longer than this, beats, are cut short in tables; shorter ones as well, if there are more
# than so many beats to a hit.
_SILENCE, _SHORT_SILENCE, _SPARSE = 128.0, 16.0, 64.0
# Parts of a beat that are told apart when bars are compared.
_SLOTS = 4
# Six beats that repeat as one, but not as two threes, are eighths if they come this fast, Hz.
_EIGHTHS_HZ = (1.5, 4.4)
# Bars of three beats shorter than this, s, are halves of 6/8 if most of them have a backbeat, as
# fast threes are written where there is one (common practice); a fast waltz has none.
_SHORT_S, _MOST = 1.4, 0.5

#: The meters that are told apart.
Meter = tuple[int, int]
_FOUR, _THREE, _FIVE, _SIX = (4, 4), (3, 4), (5, 4), (6, 8)


@dataclass(frozen=True)
class Bar:
    """How bars lie over beats.

    Attributes
    ----------
    beats, unit : int
        The meter; its unit is the beat.
    first : int
        Which of the beats (counted from the first one given) begins a bar.
    margin : float
        Log-odds over the second best beginning: near 0 is a guess.
    rival : tuple of two ints, optional
        Another meter that it could be.
    """

    beats: int
    unit: int
    first: int
    margin: float
    rival: Meter | None = None


def find_bar(onsets: Onsets, beat: Floats, frequency: float, meter: Meter | None = None) -> Bar:
    """Find how many beats make a bar and which begins one.

    Parameters
    ----------
    onsets : Onsets
    beat : float64 array, shape (n,)
        Where each hit lies, in beats from a first one (0); may be negative.
    frequency : float
        Of the beat, Hz.
    meter : tuple of two ints, optional
        If known.
    """
    beat = without_silence(beat, math.lcm(60, meter[0] if meter else 1))
    slot = np.rint(beat * _SLOTS).astype(np.int64)
    before = max(-(-int(-slot.min()) // _SLOTS), 0)
    slot = slot + before * _SLOTS
    count = int(slot.max()) // _SLOTS + 1
    rest = ~(onsets.kick | onsets.snare | onsets.keeper | onsets.crash)
    groups = (onsets.kick, onsets.snare, onsets.keeper, onsets.crash, rest)
    table = [
        np.bincount(slot[which], onsets.weight[which] ** 2, minlength=count * _SLOTS)
        for which in groups
    ]
    parts = np.minimum(np.array(table), 1.5).reshape(len(groups), count, _SLOTS)
    repeats = _repeats(parts)
    found, rival = (meter, None) if meter else _meter(repeats, parts[1, :, 0], frequency)
    halves = found == _SIX and repeats.get(3, 0) < _CLEARLY
    odds = bar_odds(
        parts[[0, 1, 3], :, 0], found[0], float(beat.min()) + before, (3,) if halves else None
    )
    order = np.argsort(-odds, kind="stable")
    margin = float(odds[order[0]] - odds[order[1]]) if len(odds) > 1 else 0.0
    return Bar(*found, int(order[0] - before) % found[0], margin, rival)


def without_silence(beat: Floats, bars: int = 60) -> Floats:
    """Places in beats, in time order, with long silences cut short by whole bars.

    So tables of beats grow with the hits, not with the hours between them, or before the first.

    Parameters
    ----------
    beat : float64 array, shape (n,)
    bars : int
        A number of beats that is a whole number of bars for all meters in question; what lies how
        far into its bar stays as it was. 60 does for bars of two to six beats.
    """
    silence = differences(beat, 0.0)
    # Where hardly anything is played, rests count for less than where they are part of a groove.
    longest = _SILENCE if silence.sum() <= _SPARSE * len(beat) else _SHORT_SILENCE
    whole = np.floor((silence - longest / 2) / bars) * bars
    return np.asarray(beat - np.cumsum(np.where(silence > longest, np.maximum(whole, 0.0), 0.0)))


def _repeats(table: Floats) -> dict[int, float]:
    """Mean correlation of beats that lie so many beats apart."""
    beats = table.transpose(1, 0, 2).reshape(table.shape[1], -1)
    beats = beats - beats.mean(axis=0)
    beats = beats / (np.linalg.norm(beats, axis=1, keepdims=True) + 1e-6)
    return {
        lag: float((beats[lag:] * beats[:-lag]).sum(axis=1).mean())
        for lag in range(2, 7)
        if len(beats) > lag + 4
    }


def _meter(
    repeats: dict[int, float], snare: Floats, frequency: float
) -> tuple[Meter, Meter | None]:
    """Four beats, unless three, five or six repeat clearly better; and what else it could be."""
    if 6 not in repeats:
        return _FOUR, None
    four, three, five, six = max(repeats[4], repeats[2]), repeats[3], repeats[5], repeats[6]
    best = max(three, five, six)
    if best <= four + _CLEARLY:
        near = best > four
        return _FOUR, (_FIVE if five == best else _THREE) if near else None
    rival = None if best > four + _CLEARLY + _SURELY else _FOUR
    if five == best:
        return _FIVE, rival
    if six > three + _CLEARLY:
        eighths = _EIGHTHS_HZ[0] <= frequency <= _EIGHTHS_HZ[1]
        return (_SIX, rival) if eighths else (_FOUR, _THREE)
    if 3 / frequency >= _SHORT_S:
        return _THREE, rival
    beats = snare[: len(snare) // 3 * 3].reshape(-1, 3)
    backbeat = float((beats > 0).mean(axis=0).max()) >= _MOST
    return (_SIX, _THREE) if backbeat else (_THREE, _SIX)


def bar_odds(
    on_beat: Floats,
    beats: int,
    first: float | None = None,
    backbeats: tuple[int, ...] | None = None,
) -> Floats:
    """Log-odds of each beat to begin a bar.

    Parameters
    ----------
    on_beat : float64 array, shape (3, n)
        What kicks, snares and crashes weigh on each of n beats.
    beats : int
        Beats in a bar.
    first : float, optional
        Where the first hit lies, in beats.
    backbeats : tuple of int, optional
        Beats, from 0, that the snare is expected on: if not given the second and fourth of four,
        all but the first of others.
    """
    if backbeats is None:
        backbeats = (1, 3) if beats == 4 else tuple(range(1, beats))
    place = np.arange(on_beat.shape[1]) % beats
    many = np.maximum(np.bincount(place, minlength=beats), 1)
    share = np.array([np.bincount(place, row, minlength=beats) / many for row in on_beat])
    log = np.log(share / (on_beat.mean(axis=1)[:, None] + 0.02) + 0.3)
    offset = np.arange(beats)
    odds = _BAR_WEIGHTS[0] * log[0] + _BAR_WEIGHTS[2] * log[2]
    if backbeats:
        backs = (offset[:, None] + np.array(backbeats)) % beats
        odds = odds + _BAR_WEIGHTS[1] * log[1][backs].mean(axis=1)
    if first is not None:
        early = (first - offset) % beats
        odds = odds + _BAR_WEIGHTS[3] * (np.minimum(early, beats - early) < _FIRST)
    return np.asarray(odds)
