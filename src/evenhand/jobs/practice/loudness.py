"""Evenness of the timekeeper in loudness."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints

#: Fewest hits on one place of the bar for that place to count.
_FEWEST = 4

#: Places of the bar are told apart to this part of a beat.
_PARTS = 48


@dataclass(frozen=True)
class Loudness:
    """How evenly something is struck.

    Attributes
    ----------
    hits : int
        How many hits it rests on.
    velocity : float
        Their median velocity.
    spread : float
        Standard deviation around the pattern that is played, in steps of velocity: accents that
        return in every bar are no unevenness.
    """

    hits: int
    velocity: float
    spread: float


def find_loudness(velocity: Ints, section: Ints, beat: Floats) -> Loudness:
    """Measure how evenly hits of one piece are struck.

    Each place of the bar has its own mean in each section; what is left around these means,
    pooled, is the spread (the within-group standard deviation of a one-way analysis of variance).

    Parameters
    ----------
    velocity : int64 array, shape (n,)
    section : int64 array, shape (n,)
    beat : float64 array, shape (n,)
        The place of each hit's line in the bar, in beats.

    Returns
    -------
    Loudness
        NaN where no place is struck often enough.
    """
    place = np.stack([section, np.rint(beat * _PARTS).astype(np.int64)])
    _, group, count = np.unique(place, axis=1, return_inverse=True, return_counts=True)
    group = group.reshape(-1)
    often = (count >= _FEWEST)[group] if len(count) else np.zeros(0, np.bool_)
    velocity, group = velocity[often], group[often]
    if not len(velocity):
        return Loudness(0, float("nan"), float("nan"))
    _, group, count = np.unique(group, return_inverse=True, return_counts=True)
    mean = np.bincount(group, velocity) / count
    rest = ((velocity - mean[group]) ** 2).sum() / (len(velocity) - len(count))
    return Loudness(len(velocity), float(np.median(velocity)), float(np.sqrt(rest)))
