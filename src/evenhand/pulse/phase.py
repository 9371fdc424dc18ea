"""Where in its period the beat falls, once the tempo is known.

Hits gather on the quarters or on the thirds of the beat; which of these is the beat itself is told
by a few marks, weighed as in grid/counting.py, and learnt again by the same script.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, indices, median
from evenhand.pulse.bars import bar_odds, without_silence
from evenhand.pulse.recurrence import Onsets

#: The marks of a place to be the beat, and what they weigh.
WEIGHTS = {
    # How densely kicks, timekeepers and what is neither kick, snare nor cymbal lie there (log).
    "kicks": 0.877,
    "timekeepers": 0.805,
    "others": -0.203,
    # How well four-beat bars lie over it: kick on the first beat, snare on the second and fourth,
    # crashes on the first (log-odds of the best of four, as in grid/bars.py).
    "bars": 0.773,
    # 1 if the first hit lies there: players tend to begin on a beat.
    "first hit": 1.382,
    # How much louder kicks are there than elsewhere (log).
    "loud kicks": 4.891,
    # Kicks lead to a beat: how many lie a quarter of a beat before it to how many behind it (log).
    "leading kicks": 0.383,
}

# Bins of a beat.
_BINS = 96
# Width of a mark on the beat in seconds, and marks fewer than this count for less.
_WIDTH_S, _MANY = 0.02, 16
# Fewest hits that a comparison of hits rests on.
_FEWEST = 8
# How near to the beat a first hit must be, in beats; what is added to shares so that none is 0.
_FIRST, _SOME = 0.12, 0.02
# Hits this near to a part of the beat (share of the part) say about where it is; then those this
# near to the beat itself (share of the beat) say where exactly, if there are enough.
_CENTRE = 0.35
_ON_BEAT = 0.12


@dataclass(frozen=True, eq=False)
class Places:
    """Places in the period that could be the beat.

    Attributes
    ----------
    phase : float64 array, shape (n,)
        0 to 1: with the frequency f, a beat would fall at phase / f seconds.
    marks : float64 array, shape (n, number of `WEIGHTS`)
    steps : int
        How many of them there are in a beat, evenly apart.
    """

    phase: Floats
    marks: Floats
    steps: int


def find_phase(onsets: Onsets, frequency: float) -> tuple[float, float]:
    """Find where in its period the beat falls.

    Parameters
    ----------
    onsets : Onsets
    frequency : float
        Of the beat, Hz.

    Returns
    -------
    phase : float
        0 to 1: a beat falls at `phase / frequency` seconds.
    margin : float
        Log-odds over the second best.
    """
    phase, odds = find_places(onsets, frequency)
    order = np.argsort(-odds, kind="stable")
    return float(phase[order[0]]), float(odds[order[0]] - odds[order[1]])


def find_places(onsets: Onsets, frequency: float, within: float = 0.5) -> tuple[Floats, Floats]:
    """Find where in its period the beat could fall, and the log-odds of each place.

    Parameters
    ----------
    onsets : Onsets
    frequency : float
        Of the beat, Hz.
    within : float
        How far from phase 0 places are looked for, in beats.

    Returns
    -------
    phase, odds : float64 arrays, shape (4 or fewer,)
        Phases as in `find_phase`, each in the middle of the hits that lie there.
    """
    places = places_of_beat(onsets, frequency, within)
    odds = places.marks @ np.array(list(WEIGHTS.values()))
    beat = onsets.s * frequency
    return np.array([_centred(beat, one, places.steps) for one in places.phase.tolist()]), odds


def places_of_beat(onsets: Onsets, frequency: float, within: float = 0.5) -> Places:
    """The places that could be the beat, with their marks (see `find_places`)."""
    rest = ~(onsets.kick | onsets.snare | onsets.keeper | onsets.crash)
    groups = (np.ones(len(onsets), np.bool_), onsets.kick, onsets.keeper, rest)
    every, *profiles = _profiles(onsets, groups, frequency)
    kicks, keepers, others = map(_density, profiles, groups[1:])
    # The strongest quarter- or third-of-a-beat comb says where marks are at all.
    place, score, steps = 0.0, -np.inf, 4
    for parts in (4, 3):
        comb = every.reshape(parts, -1).sum(axis=0)
        at = int(np.argmax(comb))
        if comb[at] * parts**0.5 > score:
            place, score, steps = at / _BINS, float(comb[at] * parts**0.5), parts
    phase = (place + np.arange(steps) / steps) % 1
    near = indices(np.abs(_off(phase)) <= within)
    begin, phase = phase[0], phase[near]
    bins = np.rint(phase * _BINS).astype(np.int64) % _BINS
    beat = onsets.s * frequency
    weight, off = onsets.weight[onsets.kick], _off(beat[onsets.kick, None] - phase)
    columns = {
        "kicks": kicks[bins],
        "timekeepers": keepers[bins],
        "others": others[bins],
        "bars": _bars(onsets, beat - begin, steps, near),
        "first hit": (np.abs(_off(beat[0] - phase)) < _FIRST).astype(np.float64),
        "loud kicks": _loud(weight, off, steps),
        "leading kicks": _leading(weight, off),
    }
    return Places(phase, np.column_stack([columns[name] for name in WEIGHTS]), steps)


def _off(beat: Floats) -> Floats:
    """How far from the nearest beat, in beats."""
    return np.asarray(beat - np.rint(beat))


def _profiles(onsets: Onsets, groups: tuple[Bools, ...], frequency: float) -> Floats:
    """Weight of groups over one beat, blurred by the width of a mark, circular; each sums to 1."""
    place = ((onsets.s * frequency) % 1 * _BINS).astype(np.int64) % _BINS
    power = onsets.weight**2
    count = np.array([np.bincount(place[which], power[which], minlength=_BINS) for which in groups])
    blur = max(_WIDTH_S * frequency * _BINS, 1.0)
    turns = np.fft.rfftfreq(_BINS)
    smooth = np.fft.irfft(np.fft.rfft(count) * np.exp(-2 * (np.pi * turns * blur) ** 2), _BINS)
    return np.asarray(np.maximum(smooth, 0) / np.maximum(count.sum(axis=1), 1e-9)[:, None])


def _density(profile: Floats, which: Bools) -> Floats:
    """The same of one group as logs, less the fewer hits there are."""
    many = int(which.sum())
    if many < 3:
        return np.zeros(_BINS)
    return np.asarray(min(1.0, many / _MANY) * np.log(_BINS * profile + 0.3))


def _bars(onsets: Onsets, beat: Floats, steps: int, chosen: Ints) -> Floats:
    """How well bars lie over some of the places."""
    slot = np.rint(without_silence(beat, 4) * steps).astype(np.int64)
    slot -= slot.min() // steps * steps
    place, part = slot // steps, slot % steps
    count = int(place.max()) + 1
    power = onsets.weight**2
    groups = (onsets.kick, onsets.snare, onsets.crash)
    odds = []
    # One of the places at a time: where rests are long, a table of all is most of the memory.
    for step in chosen.tolist():
        here = part == step
        # Filled row by row: the three of them are the most that there is.
        table = np.empty((len(groups), count))
        for row, which in zip(table, groups, strict=True):
            some = indices(which & here)
            np.minimum(np.bincount(place[some], power[some], minlength=count), 1.5, out=row)
        odds.append(bar_odds(table, 4).max())
    return np.array(odds)


def _loud(weight: Floats, off: Floats, steps: int) -> Floats:
    """How much louder hits are near each of the places (one column of `off` each) than not."""
    near = np.abs(off) < 0.5 / steps
    count = near.sum(axis=0)
    there = weight @ near / np.maximum(count, 1)
    elsewhere = weight @ ~near / np.maximum(len(weight) - count, 1)
    enough = (count >= _FEWEST) & (len(weight) - count >= _FEWEST)
    return np.where(enough, np.log(np.maximum(there, 1e-9) / np.maximum(elsewhere, 1e-9)), 0.0)


def _leading(weight: Floats, off: Floats) -> Floats:
    """How much weight lies a quarter of a beat before each of the places to how much behind."""
    if len(weight) < _FEWEST:
        return np.zeros(off.shape[1])
    part = np.rint(4 * off)
    power = weight**2
    some = _SOME * power.sum()
    return np.asarray(np.log((power @ (part == -1) + some) / (power @ (part == 1) + some)))


def _centred(beat: Floats, phase: float, steps: int) -> float:
    """Move a phase to the middle of the hits that lie on the beat."""
    for parts, width, fewest in (
        (steps, _CENTRE, 1),
        (steps, _CENTRE, 1),
        (1, _ON_BEAT, _FEWEST),
        (1, _ON_BEAT, _FEWEST),
    ):
        off = _off((beat - phase) * parts)
        near = off[np.abs(off) < width]
        if len(near) >= fewest:
            phase += median(near) / parts
    return phase % 1
