"""A comparison summed up per group, and as CSV."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.compare.differences import Comparison
from evenhand.paper import csv_bytes

COLUMNS = (
    "difference",
    "piece",
    "section",
    "bar",
    "beat",
    "hit_a",
    "hit_b",
    "note_a",
    "note_b",
    "velocity_a",
    "velocity_b",
    "ms_a",
    "ms_b",
    "shift_ms",
)


@dataclass(frozen=True)
class Tally:
    """How many hits differ, and how.

    Attributes
    ----------
    same, moved, velocity, note, added, dropped : int
        `moved`, `velocity` and `note` count pairs, each for itself: one pair can be in all three.
    mean_ms, most_ms : float
        Mean shift of the moved pairs (minus is earlier), and the largest in either direction; 0
        without any.
    """

    same: int
    moved: int
    mean_ms: float
    most_ms: float
    velocity: int
    note: int
    added: int
    dropped: int


def tally(found: Comparison, group: Ints, groups: int) -> list[Tally]:
    """Sum up the rows of each group.

    Parameters
    ----------
    found : Comparison
    group : int64 array, shape (rows,)
        The group of each row, from 0.
    groups : int
        How many there are.
    """

    def count(which: Bools) -> Ints:
        return np.bincount(group[which], minlength=groups)

    moved, shift = found.moved, found.shift
    total = np.bincount(group[moved], shift[moved], minlength=groups)
    most = np.zeros(groups)
    np.maximum.at(most, group[moved], np.abs(shift[moved]))
    columns = (
        count(~found.differs).tolist(),
        count(moved).tolist(),
        (total / np.maximum(count(moved), 1)).tolist(),
        most.tolist(),
        *(
            count(which).tolist()
            for which in (found.other_velocity, found.other_note, found.added, found.dropped)
        ),
    )
    return [Tally(*row) for row in zip(*columns, strict=True)]


def difference_words(found: Comparison) -> list[str]:
    """What each row is: `same`, `added` or `dropped`, or how it changed.

    That is those of `moved`, `velocity` and `note` that apply, joined by `+`.
    """
    words = []
    columns = zip(
        found.added, found.dropped, found.moved, found.other_velocity, found.other_note, strict=True
    )
    for added, dropped, *changes in columns:
        names = zip(("moved", "velocity", "note"), changes, strict=True)
        changed = "+".join(name for name, is_so in names if is_so)
        words.append("added" if added else "dropped" if dropped else changed or "same")
    return words


def comparison_csv(found: Comparison) -> bytes:
    """Every row as CSV (UTF-8, a header, ms to three places; empty where there is no hit)."""
    columns: tuple[Any, ...] = (
        difference_words(found),
        found.piece.tolist(),
        [found.sections[index] for index in found.section.tolist()],
        found.bar.tolist(),
        [f"{beat:.3f}" for beat in found.beat.tolist()],
        _numbers(np.where(found.dropped | found.paired, found.first + 1.0, np.nan)),
        _numbers(np.where(found.added | found.paired, found.second + 1.0, np.nan)),
        *(_numbers(row) for row in (*found.note, *found.velocity)),
        *(_numbers(row, 3) for row in (*found.ms, found.shift)),
    )
    return csv_bytes(COLUMNS, zip(*columns, strict=True))


def _numbers(values: Floats, places: int = 0) -> list[str]:
    rounded = (np.round(values, places) + 0.0).tolist()
    return ["" if math.isnan(value) else f"{value:.{places}f}" for value in rounded]
