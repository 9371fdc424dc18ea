"""Slips: how far from its habit a stroke may be before it stands out.

The task: a stroke stands out if it is unusual for this drummer and plainly heard. How far off it
may be on each side follows from what is known without the stroke itself: how widely the piece
scatters there, how restless the playing is around it, whether the timekeeper struck with it and the
strokes before and behind are off in the same way, whether it is softer than usual. A few marks are
weighed as in a logistic regression for "slipped or not"; where its odds reach a limit lies the
bound. The weights were learnt from slips planted in the tuning half of the takes; `python -m
tests.evaluation.learn_slips FOLDER` learns them again.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, clipped, picked
from evenhand.habit.drift import around
from evenhand.habit.evidence import Belonging, StruckLines
from evenhand.habit.groups import middles

#: What makes a distance unusual: in spreads of the piece there, and in tens of ms.
DISTANCE_WEIGHTS = {"in spreads": 0.25, "in 10 ms": 0.78}

#: What is known besides, and what it weighs.
WEIGHTS = {
    "always": -2.54,
    # Which way, and how far, the timekeeper struck with it is off (10 ms); whether there is none.
    "hat along": 0.15,
    "hat off": 0.26,
    "no hat": 0.55,
    # Whether what is struck next is off the same way, and the stroke before it (10 ms).
    "next along": -0.17,
    "stroke before along": -0.13,
    # How far the strokes before and behind are off, either way (10 ms).
    "strokes off": -0.15,
    # Whether the piece is off the same way there one and two bars away (10 ms).
    "bars along": -0.11,
    # How far hits around are off, and how widely the piece scatters there (log of ms).
    "unrest": -0.91,
    "spread": -0.37,
    # How much softer than usual for the piece (log).
    "soft": 0.99,
    # 1 where several anchors are struck on the line.
    "several": -1.13,
}

#: Log-odds at which a stroke stands out.
LIMIT = -3.2

_DISTANCE = np.array(list(DISTANCE_WEIGHTS.values()))
_BESIDES = np.array(list(WEIGHTS.values()))

# Distances count up to so many spreads and so many ms.
_MOST_SPREADS, _MOST_MS = 6.0, 60.0
# Neighbours further away than this say nothing, ms.
_FAR_MS = 1200.0
# The bars in which the same piece at the same place is looked for.
_OTHER_BARS = np.array([-2, -1, 1, 2])[:, None]
# Where few hits are around, their unrest is that of so many hits that are off by so many ms.
_UNREST_HITS, _UNREST_MS = 2.0, 8.0


#: By what each mark is multiplied where a stroke is early.
_TURNS = np.array([-1.0 if name.endswith(" along") else 1.0 for name in WEIGHTS])


@dataclass(frozen=True, eq=False)
class Marks:
    """What is known of each of s strokes.

    Attributes
    ----------
    off : float64 array, shape (s,)
        How far each is from its habit, ms.
    spread : float64 array, shape (s,)
        How widely its piece scatters there, ms.
    side : float64 array, shape (2, s, marks)
        The marks as if it were early, and as if it were late, in the order of `WEIGHTS`.
    """

    off: Floats
    spread: Floats
    side: Floats

    def score(self) -> Floats:
        """Log-odds that each stroke has slipped."""
        own = np.where((self.off < 0)[:, None], self.side[0], self.side[1])
        away = distance_marks(np.abs(self.off), self.spread)
        return np.asarray(away @ _DISTANCE + own @ _BESIDES)

    def bounds(self, limit: float | Floats = LIMIT) -> Floats:
        """How far early and how far late each stroke may be before it stands out, ms.

        Parameters
        ----------
        limit : float or float64 array, shape (s,)
            Log-odds.

        Returns
        -------
        float64 array, shape (2, s)
            Not below 0; infinite where it never stands out.
        """
        missing = limit - self.side @ _BESIDES
        in_spreads, in_ms = _DISTANCE[0] / self.spread, _DISTANCE[1] / 10
        # The marks of the distance grow evenly up to the nearer of their two ends, then slower.
        turn = _MOST_SPREADS * self.spread
        early = np.minimum(turn, _MOST_MS)
        reached = (in_spreads + in_ms) * early
        slower = np.where(turn < _MOST_MS, in_ms, in_spreads)
        further = early + (missing - reached) / slower
        bound = np.where(missing <= reached, missing / (in_spreads + in_ms), further)
        bound = np.where(bound > np.maximum(turn, _MOST_MS), np.inf, bound)
        return np.asarray(np.maximum(bound, 0.0))


def distance_marks(away: Floats, spread: Floats) -> Floats:
    """The marks of a distance: shape (s, 2)."""
    return np.stack(
        [np.minimum(away / spread, _MOST_SPREADS), np.minimum(away, _MOST_MS) / 10], axis=1
    )


def find_marks(
    belonging: Belonging,
    reference: Ints,
    keeper: Bools,
    anchor: Bools,
    velocity: Ints,
    voice: Ints,
) -> Marks:
    """Collect what is known of each stroke.

    Parameters
    ----------
    belonging : Belonging
    reference : int64 array, shape (s,)
        The hit that stands for each stroke.
    keeper, anchor : bool arrays, shape (n,)
        Which hits are of a timekeeper, and which are anchors.
    velocity, voice : int64 arrays, shape (n,)
    """
    off = belonging.off
    lines = belonging.lines
    own = lines.at[reference]
    near_off = clipped(off, -_MOST_MS, _MOST_MS) / 10

    hat, hats = _means(near_off, lines.at, keeper, len(lines.ms))
    hat = hat[own]
    following = _beside(near_off, lines, np.ones(len(off), np.bool_), own)[1]
    sides = _beside(near_off, lines, anchor, own)
    anchors = np.bincount(lines.at[anchor], minlength=len(lines.ms))
    bars = _other_bars(belonging, near_off, reference)
    spread = belonging.habit.spread[belonging.cell][reference]
    unrest, weight = around(
        belonging.beats, belonging.pick, np.abs(near_off) * 10, np.ones(len(off))
    )
    unrest = (unrest + _UNREST_HITS * _UNREST_MS) / (weight + _UNREST_HITS)
    usual, _ = middles(velocity.astype(np.float64), voice, int(voice.max(initial=0)) + 1)
    own_usual = np.maximum(usual[voice[reference]], 1.0)
    soft = np.minimum(np.log(velocity[reference] / own_usual), 0.0)

    # As if late; what speaks along a direction turns its sign where it is early.
    columns = {
        "always": np.ones(len(reference)),
        "hat along": hat,
        "hat off": np.abs(hat),
        "no hat": (hats[own] == 0).astype(np.float64),
        "next along": following,
        "stroke before along": sides[0],
        "strokes off": (np.abs(sides[0]) + np.abs(sides[1])) / 2,
        "bars along": bars,
        "unrest": np.log(unrest[reference]),
        "spread": np.log(spread),
        "soft": soft,
        "several": (anchors[own] > 1).astype(np.float64),
    }
    late = np.stack([columns[name] for name in WEIGHTS], axis=1)
    return Marks(off[reference], spread, np.array([late * _TURNS, late]))


def _means(off: Floats, at: Ints, which: Bools, lines: int) -> tuple[Floats, Ints]:
    """Mean of some hits on each line, and how many there are."""
    at = at[which]
    many = np.bincount(at, minlength=lines)
    return np.bincount(at, off[which], lines) / np.maximum(many, 1), many


def _beside(off: Floats, lines: StruckLines, which: Bools, own: Ints) -> Floats:
    """How far some hits are off on the lines before and behind each stroke: shape (2, s)."""
    mean, many = _means(off, lines.at, which, len(lines.ms))
    line, there = lines.beside(many > 0, own, _FAR_MS)
    return np.where(there, mean[line], 0.0)


def _other_bars(belonging: Belonging, off: Floats, reference: Ints) -> Floats:
    """How far the same piece is off at the same place one and two bars away, in the mean."""
    slot = picked(belonging.cells.slot, belonging.pick)
    order = np.argsort(slot, kind="stable")
    in_order, wanted = slot[order], slot[reference] + _OTHER_BARS
    at = np.minimum(np.searchsorted(in_order, wanted), len(slot) - 1)
    there = in_order[at] == wanted
    total = np.where(there, off[order[at]], 0.0).sum(axis=0)
    return np.asarray(total / np.maximum(there.sum(axis=0), 1))
