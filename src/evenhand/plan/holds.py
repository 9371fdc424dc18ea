"""Holds: places that stay as played."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats
from evenhand.plan.strokes import Strokes

#: A stretch of ticks, both ends included.
Stretch = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Held:
    """What is held.

    Attributes
    ----------
    stroke : bool array, shape (strokes,)
    hit : bool array, shape (hits,)
    edge : float64 array
        Ticks of the first and last hit of each hold, in order.
    blind : bool array, shape (hits,)
        Hits that are held only because no grid explains their section.
    """

    stroke: Bools
    hit: Bools
    edge: Floats
    blind: Bools

    def with_blind(self, blind: "Held") -> "Held":
        """Hold also what lies in sections that no grid explains."""
        return Held(
            self.stroke | blind.stroke,
            self.hit | blind.hit,
            np.sort(np.concatenate([self.edge, blind.edge])),
            blind.hit & ~self.hit,
        )


def find_held(tick: Floats, strokes: Strokes, line: Floats, holds: Sequence[Stretch]) -> Held:
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
    return Held(
        held_stroke, held_hit, np.array(sorted(edges), np.float64), np.zeros(len(tick), np.bool_)
    )
