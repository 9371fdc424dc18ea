"""The tempo of a take that keeps to one, and how else it could be counted."""

from dataclasses import dataclass

import numpy as np

from evenhand.grid.bars import is_half
from evenhand.grid.pulse import Onsets, refine, score_tempi

# Other ways of counting that are looked at, and how little worse they must score to be told.
_RATIOS = (1 / 3, 1 / 2, 2 / 3, 3 / 2, 2.0, 3.0)
_RIVAL = 0.35


@dataclass(frozen=True)
class Hints:
    """What is known beforehand; None where it is not.

    Attributes
    ----------
    near : float, optional
        About the tempo, bpm.
    beats, unit : int, optional
        The meter.
    first_beat : float, optional
        Where the first beat of a bar lies, seconds.
    """

    near: float | None = None
    beats: int | None = None
    unit: int | None = None
    first_beat: float | None = None


def find_tempo(onsets: Onsets, hints: Hints) -> tuple[float, float, tuple[float, ...]]:
    """Find the tempo of a take that keeps to one.

    Returns
    -------
    frequency : float
        Of the beat, Hz.
    coherence : float
        Over the whole take.
    rivals : tuple of float
        Other tempi, bpm.
    """
    bpm, score = score_tempi(onsets, hints.near)
    best = int(np.argmax(score))
    frequency, strength = refine(onsets, float(bpm[best]) / 60)
    if hints.near is None and is_half(onsets, frequency):
        frequency *= 2
    rivals = []
    for ratio in _RATIOS:
        other = frequency * 60 * ratio
        at = int(np.argmin(np.abs(bpm - other)))
        if bpm[0] < other < bpm[-1] and score[at] > score[best] - _RIVAL:
            rivals.append((float(score[at]), other))
    return frequency, strength, tuple(other for _, other in sorted(rivals, reverse=True))
