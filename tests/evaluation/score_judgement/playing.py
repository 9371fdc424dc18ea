"""A take as the measure sees it: strokes, lines, and where each hit usually lies."""

from collections.abc import Hashable
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.take.hits import Hits
from evenhand.take.meter import MeterMap
from evenhand.take.tempo import TempoMap

#: Anchors no further apart are one stroke (the default of a pass), and other hits this near to
#: the stroke are struck with it, ms.
TOGETHER_MS, WITH_MS = 20.0, 30.0

# Lines in a quarter that are tried, coarsest first; the first nearly as good as the best is taken.
_STEPS = (2, 3, 4, 6)
_NEARLY = 0.9
# Fewest hits that a usual place rests on.
_FEWEST = 4


@dataclass(frozen=True, eq=False)
class Playing:
    """n hits in file order.

    Attributes
    ----------
    ms : float64 array
    piece : str array
    anchor, keeper : bool arrays
        Kicks, snares and side sticks that are no ghosts; hats and rides.
    velocity : int64 array
    line : int64 array
        Number of the line from the start of the take, in sequence.
    place : int64 array
        The line's number in its bar.
    nominal : float64 array
        Where the line lies, ms.
    bar : int64 array
    """

    ms: Floats
    piece: Words
    anchor: Bools
    keeper: Bools
    velocity: Ints
    line: Ints
    place: Ints
    nominal: Floats
    bar: Ints

    def __len__(self) -> int:
        return len(self.ms)

    def only(self, which: Bools) -> "Playing":
        """Some of the hits."""
        return Playing(*(getattr(self, one.name)[which] for one in fields(self)))

    def at(self, ms: Floats) -> "Playing":
        """The same hits at other times, still meant for the same lines."""
        return replace(self, ms=ms)

    @cached_property
    def stroke(self) -> Ints:
        """The stroke of each anchor, from 0 in time; -1 for other hits."""
        hit = np.flatnonzero(self.anchor)
        hit = hit[np.argsort(self.ms[hit], kind="stable")]
        number = np.cumsum(np.diff(self.ms[hit], prepend=-np.inf) > TOGETHER_MS) - 1
        stroke = np.full(len(self), -1)
        stroke[hit] = number
        return stroke

    @cached_property
    def reference(self) -> Ints:
        """The loudest hit of each stroke, the earliest of equals."""
        hit = np.flatnonzero(self.anchor)
        order = np.lexsort((self.ms[hit], -self.velocity[hit], self.stroke[hit]))
        hit = hit[order]
        return hit[np.flatnonzero(np.diff(self.stroke[hit], prepend=-1))]

    @cached_property
    def with_stroke(self) -> Ints:
        """The stroke that each hit that is no anchor is struck with; -1 for none."""
        at = self.ms[self.reference]
        struck = np.full(len(self), -1)
        if len(at):
            after = np.searchsorted(at, self.ms)
            below, above = np.maximum(after - 1, 0), np.minimum(after, len(at) - 1)
            nearer = np.abs(self.ms - at[below]) <= np.abs(self.ms - at[above])
            nearest = np.where(nearer, below, above)
            near = np.abs(self.ms - at[nearest]) <= WITH_MS
            struck = np.where(near & ~self.anchor, nearest, -1)
        return struck

    @cached_property
    def usual(self) -> Floats:
        """How far from its line each hit usually lies, ms.

        The median of its piece at its place in the bar; of its piece, or of all, where there are
        too few.
        """
        off = self.ms - self.nominal
        usual = np.full(len(off), float(np.median(off)) if len(off) else 0.0)
        keys: tuple[list[Hashable], ...] = (
            list(self.piece.tolist()),
            list(zip(self.piece.tolist(), self.place.tolist(), strict=True)),
        )
        for key in keys:
            groups: dict[Hashable, list[int]] = {}
            for index, one in enumerate(key):
                groups.setdefault(one, []).append(index)
            for members in groups.values():
                if len(members) >= _FEWEST:
                    usual[members] = np.median(off[members])
        return usual


def see(hits: Hits, tempo: TempoMap, meter: MeterMap) -> Playing:
    """See a take from hits with their pieces and roles named."""
    bars = meter.bars_at(hits.tick)
    place = (hits.tick - bars.start) / meter.division
    steps, lean = find_steps(place)
    index = np.rint(place * steps - lean)
    length = (bars.stop - bars.start) / meter.division * steps
    nominal = tempo.to_ms(bars.start + index / steps * meter.division)
    _, line = np.unique(np.rint(nominal), return_inverse=True)
    return Playing(
        ms=hits.ms,
        piece=hits.piece,
        anchor=hits.role == "anchor",
        keeper=hits.role == "timekeeper",
        velocity=hits.velocity,
        line=line.astype(np.int64),
        place=np.mod(index, np.maximum(np.rint(length), 1)).astype(np.int64),
        nominal=nominal,
        bar=bars.number,
    )


def find_steps(place: Floats) -> tuple[int, float]:
    """Lines in a quarter that hits gather on, and how far behind them they lie (in gaps).

    Parameters
    ----------
    place : float64 array
        Quarters from the bar line.
    """
    if not len(place):
        return 4, 0.0
    turns = [complex(np.exp(2j * np.pi * steps * place).mean()) for steps in _STEPS]
    most = max(map(abs, turns))
    chosen = next(i for i, turn in enumerate(turns) if abs(turn) >= _NEARLY * most)
    return _STEPS[chosen], float(np.angle(turns[chosen]) / (2 * np.pi))
