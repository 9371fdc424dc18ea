"""Whether hits have another tempo than their file: 120 by default in most exports, or rounded.

Two questions, cheap ones first: do the hits run away steadily from the lines of the file
(`away`); do they gather on no part of its beat, but on a pulse of their own? Only where they seem
to is a pulse looked for.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats
from evenhand.pulse.away import DOUBT_MS, find_away
from evenhand.pulse.recurrence import Onsets, gathering, turned
from evenhand.pulse.search import keeps_time
from evenhand.pulse.steady import Hints, find_tempo, on_a_click

# Hits before the tempo can be doubted, and seconds that they must span, at least and at most.
_FEWEST, _TEMPO_S = 32, (4.0, 4 * 3600.0)
# How far hits must gather on some part of the beat for the tempo to be right.
_GATHERED = 0.2
# Hits that gather on thirds or quarters of the beat, but on quarters and eighths no more than this,
# may have a tempo at one of these ratios to the file's, if they gather there that much more surely:
# 90 bpm is all triplets at 120.
_ON_BEAT, _SAME, _MORE = 0.15, 0.01, 2.0
_RATIOS = (
    3 / 8,
    3 / 5,
    5 / 8,
    2 / 3,
    3 / 4,
    4 / 5,
    5 / 6,
    6 / 5,
    5 / 4,
    4 / 3,
    3 / 2,
    8 / 5,
    8 / 3,
)


@dataclass(frozen=True)
class OtherTempo:
    """The tempo of hits that have another one than their file.

    Attributes
    ----------
    bpm : float
        Quarter notes per minute, as hits count them.
    doubt : float
        By how much that may be wrong, bpm.
    filed : float
        What the file says, in the middle, bpm.
    away_ms : float
        How much later the end lies than the beginning, against the file's lines, ms; NaN where
        the hits have another pulse altogether.
    rivals : tuple of float
        Other tempi that the hits could be counted at, bpm.
    """

    bpm: float
    doubt: float
    filed: float
    away_ms: float = float("nan")
    rivals: tuple[float, ...] = ()


def hear_other_tempo(onsets: Onsets, beat: Floats, place: Floats) -> OtherTempo | None:
    """Hear whether hits have another tempo than their file.

    Parameters
    ----------
    onsets : Onsets
    beat, place : float64 arrays, shape (n,)
        Where each hit lies, in quarters of the file from its start and from its bar line.

    Returns
    -------
    OtherTempo or None
        None where the file's tempo can be what was played, or the hits have no pulse at all.
    """
    if not can_tell(onsets):
        return None
    seconds = float(onsets.s[-1] - onsets.s[0])
    filed = 60 * float(beat[-1] - beat[0]) / seconds
    turns = turned(place)
    away = find_away(beat, place, onsets.weight, 60_000 / filed, turns)
    if away:
        bpm, doubt = filed * (1 + away.rate), filed * away.doubt
        whole = float(round(bpm))
        return OtherTempo(whole if abs(bpm - whole) <= doubt else bpm, doubt, filed, away.ms)
    parts = np.abs(turns.mean(axis=1))
    lost = parts.max() <= _GATHERED
    if not lost and not _off_the_beat(beat, parts):
        return None
    frequency, _, rivals = find_tempo(onsets, Hints())
    found = gathering(onsets.s * frequency).max()
    ratio = 60 * frequency / filed
    near = min(abs(ratio / one - 1) for one in _RATIOS) < _SAME
    if not (lost or near) or found <= _GATHERED or not keeps_time(onsets, frequency):
        return None
    if lost and found <= 2 * parts.max():
        return None
    bpm = 60 * on_a_click(onsets, frequency)
    return OtherTempo(bpm, bpm * DOUBT_MS / 1000 / seconds, filed, rivals=rivals)


def _off_the_beat(beat: Floats, parts: Floats) -> bool:
    """Whether hits hardly lie on the file's beat, but do on one at a simple ratio to it."""
    on_beat = float(parts[:2].max())
    if on_beat > _ON_BEAT:
        return False
    there = max(float(gathering(beat * ratio)[:2].max()) for ratio in _RATIOS)
    return there > max(_MORE * on_beat, _GATHERED)


def can_tell(onsets: Onsets) -> bool:
    """Whether there are hits enough, over time enough, to doubt a tempo by.

    Parameters
    ----------
    onsets : Onsets
    """
    return len(onsets) >= _FEWEST and _TEMPO_S[0] < float(np.ptp(onsets.s)) < _TEMPO_S[1]


def gathers(place: Floats) -> bool:
    """Whether places in quarters gather on quarters, eighths, triplets or sixteenths at all.

    Parameters
    ----------
    place : float64 array, shape (n,)
        Quarters.
    """
    return bool(gathering(place).max() > _GATHERED)
