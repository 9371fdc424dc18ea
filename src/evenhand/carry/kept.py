"""What was kept: whether the drummer is still there, section by section, before and after.

The task: compare the feel before and after a pass. Lean and spread are those of the anchors
against their lines; swing, limbs and the evenness of the timekeeper are between hits and need no
lines that anchors were moved to; the in-between figure is the correlation, before and after, of
where each carried hit stands on its way from one anchor to the next. The map of time is made so
that this is 1 but for rounding: it falls where a take's ticks are coarse.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from evenhand.carry.changes import Changes
from evenhand.carry.shift_map import Carry
from evenhand.columns import Bools, Floats, Ints
from evenhand.grid.layout import Layout
from evenhand.grid.lines import Grid
from evenhand.kit.pieces import TIMEKEEPER
from evenhand.plan.feel import find_evenness, find_limbs, find_swing
from evenhand.plan.plan import Plan
from evenhand.plan.strokes import Strokes
from evenhand.take.hits import Hits
from evenhand.take.meter import MeterMap
from evenhand.take.tempo import TempoMap

#: Feel that moved by less than this is not worth a warning, ms: below what is noticed.
_LEAST_MS = 2.0

#: Fewest hits in between that a correlation rests on.
_FEWEST = 8


@dataclass(frozen=True)
class Pair:
    """One figure before and after; NaN where there is nothing to measure."""

    before: float
    after: float

    @property
    def change(self) -> float:
        """After minus before; 0 where there is nothing to measure."""
        change = self.after - self.before
        return 0.0 if math.isnan(change) else change


@dataclass(frozen=True)
class Kept:
    """The feel of a section before and after.

    Attributes
    ----------
    label : str
    lean, spread : Pair
        Median and standard deviation of the anchors' deviations, ms.
    error : Pair
        Mean distance of the anchors from their targets, ms.
    swing : Pair
        Long to short, of the timekeeper's pairs.
    swing_ms : Pair
        Where the second hit of a pair stands, ms after the first.
    limbs : dict of str to Pair
        Median of one piece against another where they are struck together, ms.
    evenness : Pair
        Spread of the timekeeper's intervals, ms.
    between : float
        Correlation of in-between timing; NaN with few such hits.
    """

    label: str
    lean: Pair
    spread: Pair
    error: Pair
    swing: Pair
    swing_ms: Pair
    limbs: dict[str, Pair]
    evenness: Pair
    between: float

    @property
    def mended(self) -> float:
        """How much nearer the anchors are to their targets on average, ms."""
        return -self.error.change

    @property
    def moved(self) -> tuple[float, str]:
        """By how much the feel moved, ms, and what of it moved most."""
        moves = [(abs(self.swing_ms.change), "swing"), (self.evenness.change, "timekeeper")]
        moves += [(abs(pair.change), name) for name, pair in self.limbs.items()]
        return max(moves)

    @property
    def warning(self) -> str:
        """What to say where the feel moved more than the errors did; empty if it didn't."""
        moved, what = self.moved
        if moved < _LEAST_MS or moved <= self.mended:
            return ""
        return (
            f"{self.label}: the feel moved more than the errors did "
            f"({what} by {moved:.1f} ms, anchors nearer by {self.mended:.1f} ms)"
        )


def compare_feel(
    changes: Changes,
    tick: Floats,
    strokes: Strokes,
    plan: Plan,
    carry: Carry,
    layout: Layout,
    tempo: TempoMap,
    meter: MeterMap,
) -> tuple[Kept, ...]:
    """Compare the feel of each section before and after.

    Parameters
    ----------
    changes : Changes
    tick : float64 array, shape (hits,)
        When each hit sounds before, the latency taken out.
    strokes : Strokes
    plan : Plan
    carry : Carry
    layout : Layout
    tempo : TempoMap
    meter : MeterMap
    """
    section = layout.sections.of(layout.lines_at(tick, meter).tick)
    look = _Look(changes, tick, strokes, plan, carry, layout, tempo, meter)
    return tuple(
        look.section(index, label, section == index)
        for index, label in enumerate(layout.sections.labels)
    )


@dataclass(frozen=True, eq=False)
class _Look:
    changes: Changes
    tick: Floats
    strokes: Strokes
    plan: Plan
    carry: Carry
    layout: Layout
    tempo: TempoMap
    meter: MeterMap

    def section(self, index: int, label: str, which: Bools) -> Kept:
        changes, hits = self.changes, self.changes.hits
        lined = which & ~np.isnan(changes.line)
        deviations = [changes.deviation_before[lined], changes.deviation_after[lined]]
        lean = np.append(self.plan.lean, np.nan)[self.strokes.of_hit][lined]
        times = [(self.tick, self.tempo.to_ms(self.tick))]
        times += [(changes.tick_after.astype(np.float64), changes.ms_after)]
        keeper = which & (hits.role == TIMEKEEPER)
        grid = self.layout.grids[index] or Grid(16)
        swings = [find_swing(at, ms, keeper, grid, self.meter) for at, ms in times]
        lines = self.layout.lines_at(self.tick, self.meter).tick
        evenness = [
            find_evenness(hits, keeper, lines, ms - self.tempo.to_ms(lines)) for _, ms in times
        ]
        nan = float("nan")
        return Kept(
            label=label,
            lean=_pair(float(np.median(one)) if len(one) else nan for one in deviations),
            spread=_pair(float(one.std()) if len(one) else nan for one in deviations),
            error=_pair(
                float(np.abs(one - lean).mean()) if len(one) else nan for one in deviations
            ),
            swing=_pair(one.ratio if one else nan for one in swings),
            swing_ms=_pair(
                one.short_ms * one.percent / (100 - one.percent) if one else nan for one in swings
            ),
            limbs=dict(self._limbs(hits, which, keeper, [ms for _, ms in times])),
            evenness=_pair(one.spread if one else nan for one in evenness),
            between=self._between(which),
        )

    def _limbs(
        self, hits: Hits, which: Bools, keeper: Bools, times: list[Floats]
    ) -> Iterator[tuple[str, Pair]]:
        for piece in ("kick", "snare"):
            for other in ("hat", "ride"):
                found = [
                    find_limbs(
                        hits,
                        np.where(which, ms, np.inf),
                        piece,
                        keeper & (hits.piece == other),
                        other,
                    )
                    for ms in times
                ]
                if all(found):
                    yield f"{piece} - {other}", _pair(one.lean if one else 0.0 for one in found)

    def _between(self, which: Bools) -> float:
        """Correlation of the share of the way between the anchors around each carried hit."""
        knots = self.carry.map.tick
        if len(knots) < 2:
            return float("nan")
        goes = knots + self.carry.map.shift
        at: Ints = np.searchsorted(knots, self.tick, side="right")
        inside = which & (at > 0) & (at < len(knots)) & (self.changes.action == "carried")
        at = at[inside]
        ways = [
            (place[inside] - ends[at - 1]) / np.maximum(ends[at] - ends[at - 1], 1e-9)
            for place, ends in ((self.tick, knots), (self.changes.tick_after, goes))
        ]
        if len(at) < _FEWEST or min(one.std() for one in ways) < 1e-9:
            return float("nan")
        return float(np.corrcoef(*ways)[0, 1])


def _pair(both: Iterator[float]) -> Pair:
    before, after = both
    return Pair(before, after)
