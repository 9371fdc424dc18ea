"""What was kept: whether the drummer is still there, section by section, before and after.

The task: compare the feel before and after a pass. Lean and spread are those of all anchor hits
that belong to a line, as `measure.sum_up` has them, against the same lines before and after; what
the plan decided on, and how near that came to its target, is another figure (`error`). Swing,
limbs and the evenness of the timekeeper are between hits and need no lines that anchors were moved
to; the in-between figure is the correlation, before and after, of where each carried hit stands on
its way from one anchor to the next. The map of time is made so that this is 1 but for rounding: it
falls where a take's ticks are coarse.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np

from evenhand.carry import Carry
from evenhand.columns import Bools, Floats, Ints
from evenhand.grid import Grid
from evenhand.ground import Ground
from evenhand.kit import ANCHOR, TIMEKEEPER
from evenhand.measure import find_evenness, find_limbs, find_swing, sum_up
from evenhand.outcome.changes import CARRIED, Changes
from evenhand.plan import Plan
from evenhand.take import Hits, MeterMap

#: Feel that moved by less than this is not worth a warning, ms: below what is noticed.
_LEAST_MS = 2.0

#: Fewest hits in between that a correlation rests on, and knots that they can be between.
_FEWEST, _KNOTS = 8, 2


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
        Median and standard deviation of the deviations of all anchor hits that belong to a line,
        ms: the lean that the assessment and the listening page say as well.
    error : Pair
        Mean distance of the anchors that were decided on from their targets, ms.
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


def compare_feel(changes: Changes, ground: Ground, plan: Plan, carry: Carry) -> tuple[Kept, ...]:
    """Compare the feel of each section before and after.

    Parameters
    ----------
    changes : Changes
    ground : Ground
    plan : Plan
    carry : Carry
    """
    tick, time, layout = ground.tick, ground.time, ground.layout
    table = plan.measured
    after = ground.judged(changes.tick_after.astype(np.float64))
    look = _Sides(
        hits=changes.hits,
        tick=np.stack([tick, after]),
        ms=np.stack([time.ms(tick), time.ms(after)]),
        line=table.line,
        line_ms=time.ms(table.line),
        deviation=np.stack([changes.deviation_before, changes.deviation_after]),
        lean=ground.strokes.spread(plan.lean, np.nan),
        way=_ways(np.stack([tick, after]), changes.action == CARRIED, carry),
    )
    order = np.argsort(table.section, kind="stable")
    edges = np.searchsorted(table.section[order], np.arange(1, len(layout.sections)))
    return tuple(
        look.only(part).sum_up(label, grid or Grid(16), time.meter, stand)
        for label, grid, part, stand in zip(
            layout.sections.labels,
            layout.grids,
            np.split(order, edges),
            compare_leans(changes, ground, plan),
            strict=True,
        )
    )


def compare_leans(changes: Changes, ground: Ground, plan: Plan) -> tuple[tuple[Pair, Pair], ...]:
    """The lean of each section, and its spread, before and after.

    Parameters
    ----------
    changes : Changes
    ground : Ground
    plan : Plan
    """
    both = plan.measured, plan.measured.after(changes.ms_after - ground.offset, ground.time)
    anchor = ground.hits.role == ANCHOR
    found = []
    for index in range(len(ground.sections)):
        mine = anchor & (plan.measured.section == index)
        before, after = (sum_up(one, mine, trend=False) for one in both)
        found.append((Pair(before.lean, after.lean), Pair(before.spread, after.spread)))
    return tuple(found)


def _ways(tick: Floats, carried: Bools, carry: Carry) -> Floats:
    """Where on the way between the anchors around it each carried hit is; NaN for other hits."""
    way = np.full(tick.shape, np.nan)
    for number, knots in enumerate(carry.maps):
        if len(knots.tick) < _KNOTS:
            continue
        at = np.searchsorted(knots.tick, tick[0], side="right")
        inside = carried & (at > 0) & (at < len(knots.tick))
        if len(carry.maps) > 1:
            inside &= carry.limb == number
        at = at[inside]
        for row, ends in enumerate((knots.tick, knots.tick + knots.shift)):
            gap = np.maximum(ends[at] - ends[at - 1], 1e-9)
            way[row, inside] = (tick[row, inside] - ends[at - 1]) / gap
    return way


@dataclass(frozen=True, eq=False)
class _Sides:
    """What is looked at, in one entry per hit; before and after in the rows of those with two."""

    hits: Hits
    tick: Floats
    ms: Floats
    line: Floats
    line_ms: Floats
    deviation: Floats
    lean: Floats
    way: Floats

    def only(self, which: Ints) -> "_Sides":
        """Some of the hits."""
        hits, *rest = (getattr(self, field.name) for field in fields(self))
        return _Sides(hits.only(which), *(column[..., which] for column in rest))

    def sum_up(self, label: str, grid: Grid, meter: MeterMap, stand: tuple[Pair, Pair]) -> Kept:
        lined = ~np.isnan(self.deviation[0])
        deviations, lean = self.deviation[:, lined], self.lean[lined]
        keeper = self.hits.role == TIMEKEEPER
        swings = [
            find_swing(tick, ms, keeper, grid, meter)
            for tick, ms in zip(self.tick, self.ms, strict=True)
        ]
        evenness = [
            find_evenness(self.hits, keeper, self.line, ms - self.line_ms) for ms in self.ms
        ]
        nan = float("nan")
        return Kept(
            label=label,
            lean=stand[0],
            spread=stand[1],
            error=_pair(
                float(np.abs(one - lean).mean()) if len(one) else nan for one in deviations
            ),
            swing=_pair(one.ratio if one else nan for one in swings),
            swing_ms=_pair(
                one.short_ms * one.percent / (100 - one.percent) if one else nan for one in swings
            ),
            limbs=dict(self._limbs(keeper)),
            evenness=_pair(one.spread if one else nan for one in evenness),
            between=self._between(),
        )

    def _limbs(self, keeper: Bools) -> Iterator[tuple[str, Pair]]:
        for piece in ("kick", "snare"):
            for other in ("hat", "ride"):
                theirs = keeper & (self.hits.piece == other)
                found = [find_limbs(self.hits, ms, piece, theirs, other) for ms in self.ms]
                if all(found):
                    yield f"{piece} - {other}", _pair(one.lean if one else 0.0 for one in found)

    def _between(self) -> float:
        """Correlation of where carried hits are on their ways, before and after."""
        told = ~np.isnan(self.way[0])
        ways = [way[told] for way in self.way]
        if told.sum() < _FEWEST or min(way.std() for way in ways) < 1e-9:
            return float("nan")
        return float(np.corrcoef(*ways)[0, 1])


def _pair(both: Iterator[float]) -> Pair:
    before, after = both
    return Pair(before, after)
