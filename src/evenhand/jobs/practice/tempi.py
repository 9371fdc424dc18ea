"""Tempo groups: takes, or parts of them, that may be compared with each other.

A spread in ms means another thing at another tempo, and another thing again without a click. So a
group is a range of tempi, with a click or without.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints

#: Width of a range, bpm. Common practice: a step that is felt.
WIDTH = 20


@dataclass(frozen=True)
class TempoGroup:
    """A range of tempi.

    Attributes
    ----------
    low : int
        Its slowest tempo, bpm.
    width : int
        The next range begins this much above.
    click : bool
        Whether it was played to a click.
    """

    low: int
    width: int
    click: bool = True

    def __str__(self) -> str:
        tail = "" if self.click else ", no click"
        return f"{self.low}-{self.low + self.width - 1} bpm{tail}"


def by_tempo(group: TempoGroup) -> tuple[bool, int]:
    """The order in which groups are told: with a click first, slow to fast."""
    return not group.click, group.low


def group_lows(bpm: Floats, width: int) -> Ints:
    """The slowest tempo of each hit's range.

    A tempo that moves by no more than a range is one tempo, its middle, so that a take on the
    edge of two is not torn apart.

    Parameters
    ----------
    bpm : float64 array, shape (n,)
        The tempo at each hit.
    width : int
    """
    if not len(bpm):
        return np.zeros(0, np.int64)
    # A file holds whole microseconds: 140 bpm comes back as 140.0001, 280 as 279.9997.
    exact = np.round(bpm, 2)
    if np.ptp(exact) <= width:
        exact = np.full(len(exact), np.median(exact))
    return np.floor(exact / width).astype(np.int64) * width
