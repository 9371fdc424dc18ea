"""The tempo of a take that keeps to one, and how else it could be counted."""

from dataclasses import dataclass

import numpy as np

from evenhand.grid import STRAIGHT
from evenhand.pulse.counting import ways_to_count
from evenhand.pulse.recurrence import Onsets, refine, score_tempi

# Chance from which another way to count is told.
_RIVAL = 0.1
# How far the beat may stray over a whole take, s, to be put on a click of whole bpm: in the tuning
# part of the takes all but one of those with their tempo found stray less. And how far the tempo
# may be from it, bpm, lest short takes land on one by chance.
_STRAY_S, _BY_CHANCE = 0.04, 0.1


@dataclass(frozen=True)
class Hints:
    """What is known beforehand; None where it is not.

    Attributes
    ----------
    near : float, optional
        About the tempo, quarter notes per minute.
    beats, unit : int, optional
        The meter.
    first_beat : float, optional
        Where the first beat of a bar lies, seconds.
    """

    near: float | None = None
    beats: int | None = None
    unit: int | None = None
    first_beat: float | None = None

    @property
    def meter(self) -> tuple[int, int] | None:
        """The meter; None if it is not known."""
        return (self.beats, self.unit or 4) if self.beats else None

    @property
    def near_beats(self) -> float | None:
        """About the tempo, beats of the meter per minute."""
        return None if self.near is None else self.near * (self.unit or 4) / 4


def find_tempo(onsets: Onsets, hints: Hints) -> tuple[float, float, tuple[float, ...]]:
    """Find the tempo of a take that keeps to one.

    Parameters
    ----------
    onsets : Onsets
    hints : Hints
        What is known of the tempo beforehand.

    Returns
    -------
    frequency : float
        Of the beat, Hz.
    coherence : float
        Over the whole take.
    rivals : tuple of float
        Other tempi it could be counted at, bpm, likeliest first.
    """
    bpm, score = score_tempi(onsets, hints.near_beats)
    frequency, strength = refine(onsets, float(bpm[np.argmax(score)]) / 60)
    if hints.near is not None:
        return frequency, strength, ()
    counted, *others = ways_to_count(onsets, frequency)
    rivals = [way.frequency for way in others if way.chance > _RIVAL]
    if counted.swing > STRAIGHT:
        # Too little swing to decide for twice the tempo, but enough to tell of it.
        rivals += [way.frequency for way in others if _double(way.frequency / counted.frequency)]
    return counted.frequency, strength, tuple(60 * one for one in dict.fromkeys(rivals))


def _double(ratio: float) -> bool:
    return abs(ratio - 2) < 1e-6


def on_a_click(onsets: Onsets, frequency: float) -> float:
    """Round a tempo to whole beats per minute, as clicks have, if the hits can't tell them apart.

    Parameters
    ----------
    onsets : Onsets
    frequency : float
        Of the beat, Hz.

    Returns
    -------
    float
        Hz. Over the whole take the beat strays by no more than `_STRAY_S` from what it was.
    """
    whole = round(60 * frequency)
    stray = abs(60 * frequency / whole - 1) * float(onsets.s[-1] - onsets.s[0])
    if stray <= _STRAY_S and abs(60 * frequency - whole) <= _BY_CHANCE:
        return whole / 60
    return frequency
