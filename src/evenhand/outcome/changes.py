"""What happened to every hit, and why: the columns of the change log."""

from dataclasses import dataclass

import numpy as np

from evenhand.carry import Carry
from evenhand.columns import SLACK_MS, Bools, Floats, Ints, Words
from evenhand.kit import ROLL
from evenhand.plan import (
    FILL_AS_PLAYED,
    HELD,
    IN_FILL,
    IN_HOLD,
    KEPT,
    LANDING_AS_PLAYED,
    LINE_TAKEN,
    MOVED,
    NO_GRID,
    OFF_GRID,
    Plan,
    Strokes,
)
from evenhand.take import Hits, MeterMap, TempoMap

CARRIED = "carried"

#: Every action with the reasons it can have; docs/reasons.md explains each.
REASONS: dict[str, tuple[str, ...]] = {
    MOVED: (
        "outside the window",
        "outside the window but limited by a neighbour",
        "with its stroke",
        "with its span",
        "with its fill",
        "nudged by hand",
        "limited at the start of the file",
    ),
    KEPT: (
        "inside the window",
        "syncopation, on a line of another grid",
        "outside the window but strength is 0",
        "with its stroke",
    ),
    CARRIED: (
        "between anchors",
        "before the first anchor",
        "after the last anchor",
        "no anchors in the take",
        "off the grid",
        "line taken by a nearer stroke",
        "inside a fill",
        "with its main hit",
        "inside a roll",
        "limited at the start of the file",
    ),
    HELD: (IN_HOLD, NO_GRID, FILL_AS_PLAYED, LANDING_AS_PLAYED),
}


@dataclass(frozen=True, eq=False)
class Changes:
    """One entry per hit, in file order; times in ticks of the output and in ms.

    Attributes
    ----------
    hits : Hits
        The hits as read.
    bar, beat : int64 and float64 arrays
        Where the hit was.
    tick_after : int64 array
    ms_after, shift_ms : float64 arrays
    line : float64 array
        The line of the hit's stroke in ticks; NaN where the hit anchors nothing.
    deviation_before, deviation_after : float64 arrays
        From that line, ms, the latency taken out before; NaN where the hit anchors nothing.
    action, reason : str arrays
        See `REASONS`.
    span : int64 array
        Number of the span that the hit's stroke moves with, from 1; 0 for none.
    """

    hits: Hits
    bar: Ints
    beat: Floats
    tick_after: Ints
    ms_after: Floats
    shift_ms: Floats
    line: Floats
    deviation_before: Floats
    deviation_after: Floats
    action: Words
    reason: Words
    span: Ints

    def __len__(self) -> int:
        return len(self.hits)


def list_changes(
    hits: Hits,
    tick: Floats,
    tick_after: Ints,
    strokes: Strokes,
    plan: Plan,
    carry: Carry,
    tempo: TempoMap,
    meter: MeterMap,
) -> Changes:
    """Say what happened to each hit.

    Parameters
    ----------
    hits : Hits
    tick : float64 array, shape (hits,)
        When each hit sounds, the latency taken out.
    tick_after : int64 array, shape (hits,)
    strokes : Strokes
    plan : Plan
    carry : Carry
    tempo : TempoMap
    meter : MeterMap
    """
    line = _per_hit(np.where(plan.claims, plan.line, np.nan), strokes)
    line_ms = tempo.to_ms(line)
    ms_after = tempo.to_ms(tick_after)
    action, reason = _account(tick, hits.role, strokes, plan, carry)
    span = np.where(strokes.anchor, np.append(plan.span, 0)[strokes.of_hit], 0)
    bar, beat = meter.place(hits.tick)
    return Changes(
        hits=hits,
        bar=bar,
        beat=beat,
        tick_after=tick_after,
        ms_after=ms_after,
        shift_ms=ms_after - hits.ms,
        line=line,
        deviation_before=tempo.to_ms(tick) - line_ms,
        deviation_after=ms_after - line_ms,
        action=action,
        reason=reason,
        span=span,
    )


def _per_hit(column: Floats, strokes: Strokes) -> Floats:
    """What holds for the stroke of each anchor hit; NaN for other hits."""
    return np.where(strokes.anchor, np.append(column, np.nan)[strokes.of_hit], np.nan)


def _account(
    tick: Floats, role: Words, strokes: Strokes, plan: Plan, carry: Carry
) -> tuple[Words, Words]:
    """Action and reason of each hit."""
    knots = carry.map.tick
    reason = np.full(len(tick), "between anchors", "<U46")
    if len(knots):
        reason[tick < knots[0]] = "before the first anchor"
        reason[tick > knots[-1]] = "after the last anchor"
    else:
        reason[:] = "no anchors in the take"
    limited = carry.map.starts_too_early(tick)
    reason[limited] = "limited at the start of the file"

    of_hit = np.where(strokes.anchor, strokes.of_hit, -1)
    fate = np.append(plan.fate, CARRIED)[of_hit]
    squeezed = np.append(carry.squeezed, False)[of_hit]
    weak = np.append(plan.strength == 0, False)[of_hit]
    unmoved = np.append(plan.shift == 0, False)[of_hit] & weak
    whole = np.append(plan.whole, False)[of_hit]
    inside = np.append(np.abs(plan.deviation - plan.lean) <= plan.window + SLACK_MS, False)[of_hit]
    syncopated = np.append(plan.syncopation != 0, False)[of_hit]
    reference = np.zeros(len(tick), np.bool_)
    reference[strokes.reference] = True
    follows = (of_hit >= 0) & ~reference

    def tell(which: Bools, words: str) -> None:
        reason[which] = words

    moved, kept, held = fate == MOVED, fate == KEPT, plan.held.hit
    tell(fate == OFF_GRID, "off the grid")
    tell(fate == LINE_TAKEN, "line taken by a nearer stroke")
    tell(fate == IN_FILL, "inside a fill")
    tell((role == ROLL) & ~limited, "inside a roll")
    tell((strokes.bond >= 0) & (of_hit < 0) & ~limited, "with its main hit")
    tell(kept, "inside the window")
    tell(kept & syncopated, "syncopation, on a line of another grid")
    tell(moved, "outside the window")
    tell(moved & squeezed, "outside the window but limited by a neighbour")
    tell(moved & unmoved, "outside the window but strength is 0")
    tell(moved & inside, "with its span")
    tell(moved & whole, "with its fill")
    tell((moved | kept) & follows, "with its stroke")
    tell(moved & limited, "limited at the start of the file")
    reason[held] = plan.held.why[held]
    tell(carry.nudged, "nudged by hand")
    idle = moved & unmoved
    action = np.where(moved & ~idle, MOVED, np.where(kept | idle, KEPT, CARRIED))
    action = np.where(held, HELD, action)
    return np.where(carry.nudged, MOVED, action), reason
