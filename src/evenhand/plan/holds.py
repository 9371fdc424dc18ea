"""Holds: places that stay as played."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Phrases
from evenhand.ground import Strokes

#: A stretch of ticks, both ends included.
Stretch = tuple[float, float]


#: Why a hit is held.
IN_HOLD = "in a hold"
NO_GRID = "no grid explains the section"
OTHER_TEMPO = "the hits have another tempo than the file"
FILL_AS_PLAYED = "in a fill left as played"
LANDING_AS_PLAYED = "landing of a fill left as played"


@dataclass(frozen=True, eq=False)
class Held:
    """What is held.

    Attributes
    ----------
    stroke : bool array, shape (strokes,)
    hit : bool array, shape (hits,)
    edge : float64 array
        Ticks of the first and last hit of each held stretch, in order.
    why : str array, shape (hits,)
        `IN_HOLD`, `NO_GRID`, `FILL_AS_PLAYED` or `LANDING_AS_PLAYED`; empty for hits not held.
    """

    stroke: Bools
    hit: Bools
    edge: Floats
    why: Phrases

    def also(self, other: "Held") -> "Held":
        """Hold more; what is held already keeps its reason."""
        return Held(
            self.stroke | other.stroke,
            self.hit | other.hit,
            np.sort(np.concatenate([self.edge, other.edge])),
            np.where(self.hit, self.why, other.why),
        )


def find_held(
    tick: Floats, strokes: Strokes, line: Floats, holds: Sequence[Stretch], why: str = IN_HOLD
) -> Held:
    """Find what lies in the holds.

    A stroke is held if any of it lies in a hold, or if its line does: an early downbeat is held
    by the name that it has everywhere else.

    Parameters
    ----------
    tick : float64 array, shape (hits,)
    strokes : Strokes
    line : float64 array, shape (strokes,)
        The line of each stroke in ticks; NaN where it has none.
    holds : sequence of (float, float)
        First and last tick of each hold.
    why : str
        The reason to give.
    """
    held_stroke = np.zeros(len(strokes), np.bool_)
    held_hit = np.zeros(len(tick), np.bool_)
    edges: list[float] = []
    for first, last in holds:
        held = (line >= first) & (line <= last) | strokes.overlap(first, last)
        begin = min([first, *strokes.first[held]])
        end = max([last, *strokes.last[held]])
        inside = (tick >= begin) & (tick <= end)
        held_stroke |= strokes.overlap(begin, end)
        held_hit |= inside
        edges += [tick[inside].min(), tick[inside].max()] if inside.any() else []
    return Held(held_stroke, held_hit, np.array(sorted(edges), np.float64), _told(held_hit, why))


def hold_strokes(tick: Floats, strokes: Strokes, which: Bools, more: Bools, why: str) -> Held:
    """Hold some strokes with all their hits, and some more hits.

    Parameters
    ----------
    tick : float64 array, shape (hits,)
    strokes : Strokes
    which : bool array, shape (strokes,)
    more : bool array, shape (hits,)
        What is struck while a stroke goes on stays or moves with it.
    why : str
        The reason to give.
    """
    alone = more & ~strokes.within(tick, np.ones(len(strokes), np.bool_))
    inside = strokes.within(tick, which)
    return Held(which, alone | inside, np.sort(tick[alone]), _told(alone | inside, why))


def _told(hit: Bools, why: str) -> Phrases:
    told = np.full(len(hit), "", np.object_)
    told[hit] = why
    return told
