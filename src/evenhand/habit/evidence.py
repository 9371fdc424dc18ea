"""The line of each hit by evidence: where the habit, the drift and the pattern put it.

The task: a hit that is 55 ms late may be nearer to a line that nobody strikes than to the beat that
it belongs to. Of the lines around it, the one that explains it best is taken. What speaks for a
line is weighed as in a conditional logistic regression (McFadden 1974, in Zarembka (ed.), Frontiers
in Econometrics, 105-142); the weights were learnt from slips planted in the tuning half of the
takes, `python -m tests.evaluation.learn_slips FOLDER` learns them again.

Limits: where two lines that are both struck in every bar lie 60 ms apart, a slip of 40 ms cannot
be told from an early hit of the next line; such hits are doubtful.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from evenhand.columns import (
    Bools,
    Floats,
    Ints,
    clipped,
    greatest,
    indices,
    known_of,
    median,
    numbered,
    picked,
)
from evenhand.habit.cells import Cells, count_struck, find_cells
from evenhand.habit.drift import Beats, find_beats, find_drift
from evenhand.habit.near import Near
from evenhand.habit.usual import Habit, find_habit

#: What speaks for a line, and what it weighs.
WEIGHTS = {
    # In what share of the bars nearby the piece is struck there (log).
    "struck nearby": 0.58,
    # In what share of all such bars (log).
    "struck there": 0.81,
    # How well the distance fits lean, drift and habit, or a slip (log).
    "distance": 0.67,
    # 1 where another hit of the piece explains the line better: a piece rarely strikes a line
    # twice.
    "taken": -2.50,
    # In what share of the bars anyone strikes there (log).
    "place": 0.52,
}

# A hit is a slip in this share of cases; slips up to `_FAR` ms are as likely as each other,
# larger ones ever less so, by a factor e for each `_FALL` ms.
_SLIPS, _FAR, _FALL = 0.1, 60.0, 18.0
# The least chance there is; a smaller one has no logarithm.
_NEVER = 1e-300
# Hits never seen at a place: as if there had been this many.
_UNSEEN, _OF_BARS = 0.05, 0.5
# How many bars the whole count for beside those nearby.
_WHOLE = 4.0
# Rounds of habit and lines. More change nothing in the takes.
_ROUNDS = 2
#: Two lines are about equally good where one is less than this many times as likely as the other.
DOUBT = 2.0


@dataclass(frozen=True, eq=False)
class Belonging:
    """The line that each of n hits belongs to, and what is usual there.

    Attributes
    ----------
    near : Near
    cells : Cells
    beats : Beats
    habit : Habit
    pick : int64 array, shape (n,)
        Which of the lines near it each hit belongs to.
    marks : float64 array, shape (marks, n, lines)
        What speaks for each line, in the order of `WEIGHTS`.
    margin : float64 array, shape (n,)
        Log of how many times likelier the line is than the second best.
    drift : float64 array, shape (n,)
        Of the playing around each hit, ms.
    """

    near: Near
    cells: Cells
    beats: Beats
    habit: Habit
    pick: Ints
    marks: Floats
    margin: Floats
    drift: Floats

    def without(self, ms: Floats, drift: Floats) -> "Belonging":
        """The same hits on the same lines, each some ms less behind them, in another drift.

        Parameters
        ----------
        ms, drift : float64 arrays, shape (n,)
        """
        near = replace(self.near, off=self.near.off - ms[:, None])
        of_lines = "cell", "line", "line_ms", "lines", "bar", "within", "place"
        return known_of(self, replace(self, near=near, drift=drift), *of_lines)

    @cached_property
    def cell(self) -> Ints:
        """The cell of each hit."""
        return picked(self.cells.cell, self.pick)

    @cached_property
    def line(self) -> Floats:
        """The line of each hit, ticks."""
        return picked(self.near.tick, self.pick)

    @cached_property
    def line_ms(self) -> Floats:
        """The same in ms."""
        return picked(self.near.ms, self.pick)

    @cached_property
    def lines(self) -> "StruckLines":
        """The lines that anything is struck on."""
        line, at = numbered(np.rint(self.line).astype(np.int64))
        ms = np.zeros(len(line))
        ms[at] = self.line_ms
        return StruckLines(at, ms, np.bincount(at, minlength=len(line)))

    @cached_property
    def deviation(self) -> Floats:
        """How far each hit is from its line, ms."""
        return picked(self.near.off, self.pick)

    @cached_property
    def bar(self) -> Ints:
        """The bar of the line of each hit."""
        return picked(self.near.bar, self.pick)

    @cached_property
    def within(self) -> Floats:
        """Where in its bar that line lies, from 0 to 1."""
        return picked(self.near.within, self.pick)

    @cached_property
    def place(self) -> Floats:
        """Where that line lies, in bars."""
        return self.bar + self.within

    @cached_property
    def off(self) -> Floats:
        """How far each hit is from where it usually lies, the drift taken into account, ms."""
        return np.asarray(self.deviation - self.habit.ms[self.cell] - self.drift)


@dataclass(frozen=True, eq=False)
class StruckLines:
    """Lines that anything is struck on, k of them in time order.

    Attributes
    ----------
    at : int64 array, shape (n,)
        The line of each hit, from 0.
    ms : float64 array, shape (k,)
        Where each lies.
    many : int64 array, shape (k,)
        How many hits are struck on it.
    """

    at: Ints
    ms: Floats
    many: Ints

    def beside(self, which: Bools, own: Ints, near_ms: float) -> tuple[Ints, Bools]:
        """Of some of the lines, the last one before each stroke and the next one behind it.

        Parameters
        ----------
        which : bool array, shape (k,)
            Those lines.
        own : int64 array, shape (s,)
            The line of each stroke.
        near_ms : float
            What is as far away as this is not beside it, ms.

        Returns
        -------
        line : int64 array, shape (2, s)
        there : bool array, shape (2, s)
            Whether there is one.
        """
        some = indices(which)
        if not len(some):
            return np.zeros((2, len(own)), np.int64), np.zeros((2, len(own)), np.bool_)
        upto = which.cumsum()[own]
        index = np.array([upto - 1 - which[own], upto])
        line = some[clipped(index, 0, len(some) - 1)]
        near = np.abs(self.ms[line] - self.ms[own]) < near_ms
        return line, near & (index >= 0) & (index < len(some))


def find_lines(near: Near, voice: Ints) -> Belonging:
    """Find the line of each hit, and the habit.

    Parameters
    ----------
    near : Near
    voice : int64 array, shape (n,)
        What was struck: hits with one number have one habit.
    """
    cells, beats = find_cells(near, voice), find_beats(near.half_beat)
    pick = _first_pick(near)
    drift = np.zeros(len(near))
    for _ in range(_ROUNDS):
        # The marks of the round before make room first.
        marks = score = np.zeros(0)
        habit, drift = _habit(near, cells, beats, pick, drift)
        marks = _marks(near, cells, habit, drift, pick)
        score = _weighed(marks)
        pick = np.argmax(score, axis=1)
    habit, drift = _habit(near, cells, beats, pick, drift)
    best = picked(score, pick)
    score[np.arange(len(pick)), pick] = -np.inf
    margin = best - greatest(score)
    return Belonging(near, cells, beats, habit, pick, marks, margin, drift)


def _weighed(marks: Floats) -> Floats:
    """How well each line explains each hit."""
    # No matrix product: one of this size is handed to further threads, which costs more.
    return np.asarray(np.einsum("m,mnl->nl", np.array(list(WEIGHTS.values())), marks))


def _habit(
    near: Near, cells: Cells, beats: Beats, pick: Ints, drift: Floats
) -> tuple[Habit, Floats]:
    """Habit and drift, given the line of each hit and the drift so far."""
    cell, off = picked(cells.cell, pick), picked(near.off, pick)
    habit = find_habit(cells, cell, off - drift)
    return habit, find_drift(off - habit.ms[cell], habit.spread[cell], beats, pick)


def _first_pick(near: Near) -> Ints:
    """The nearest line, once the middle of all distances is taken out."""
    pick = np.argmin(np.abs(near.off), axis=1)
    for _ in range(2):
        middle = median(picked(near.off, pick)) if len(pick) else 0.0
        before, pick = pick, np.argmin(np.abs(near.off - middle), axis=1)
        if (pick == before).all():
            break
    return np.asarray(pick)


def _marks(near: Near, cells: Cells, habit: Habit, drift: Floats, pick: Ints) -> Floats:
    struck = count_struck(cells, near, pick)
    there = (struck.others + _UNSEEN) / (cells.bars[cells.cell] + _OF_BARS)
    there = np.minimum(there, 1.0)
    nearby = (struck.told * struck.nearby + _WHOLE * there) / (struck.told + _WHOLE)
    place = np.minimum((struck.anyone + _UNSEEN) / (cells.bars + _OF_BARS), 1.0)
    away = near.off - habit.ms[cells.cell] - drift[:, None]
    # Filled one by one: they are the largest table there is, and there is no room for two of it.
    marks = np.empty((len(WEIGHTS), *away.shape))
    np.log(nearby, out=marks[0])
    np.log(there, out=marks[1])
    marks[2] = log_chance(away, habit.spread[cells.cell])
    marks[3] = 0.0
    marks[4] = np.log(place)[cells.cell]
    marks[3] = _taken(cells, _weighed(marks), pick)
    return marks


def log_chance(away: Floats, spread: Floats) -> Floats:
    """Log of the chance that a hit lies so far from its usual place: a bell, or a slip.

    Parameters
    ----------
    away, spread : float64 arrays of one shape
        In ms.
    """
    bell = np.exp(-0.5 * (away / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
    slip = np.exp(-np.maximum(np.abs(away) - _FAR, 0.0) / _FALL) / (2 * (_FAR + _FALL))
    # Minutes away, where both chances are 0, nothing is more unlikely than anything else.
    return np.asarray(np.log(np.maximum((1 - _SLIPS) * bell + _SLIPS * slip, _NEVER)))


def _taken(cells: Cells, score: Floats, pick: Ints) -> Floats:
    """Which lines another hit of the same voice explains better."""
    # Only the slots near a hit are written, and read.
    best = np.empty(cells.ids)
    best[cells.id] = -np.inf
    np.maximum.at(best, picked(cells.id, pick), picked(score, pick))
    return np.asarray(best[cells.id] > score, np.float64)
