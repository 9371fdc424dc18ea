"""What happened to every hit, and why: the columns of the change log."""

from dataclasses import dataclass

import numpy as np

from evenhand.carry.shift_map import Carry
from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.plan.plan import HELD, KEPT, LINE_TAKEN, MOVED, OFF_GRID, Plan
from evenhand.plan.strokes import Strokes
from evenhand.take.hits import Hits
from evenhand.take.meter import MeterMap
from evenhand.take.tempo import TempoMap

CARRIED = "carried"

#: Every action with the reasons it can have; docs/reasons.md explains each.
REASONS: dict[str, tuple[str, ...]] = {
    MOVED: (
        "outside the window",
        "outside the window but limited by a neighbour",
        "with its stroke",
        "limited at the start of the file",
    ),
    KEPT: (
        "inside the window",
        "outside the window but strength is 0",
        "outside the window but no room to move",
        "with its stroke",
    ),
    CARRIED: (
        "between anchors",
        "before the first anchor",
        "after the last anchor",
        "no anchors in the take",
        "off the grid",
        "line taken by a nearer stroke",
        "limited at the start of the file",
    ),
    HELD: ("in a hold", "no grid explains the section"),
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
    strength: float,
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
    strength : float
        As in the plan, percent.
    """
    line = _per_hit(np.where(plan.claims, plan.line, np.nan), strokes, np.nan)
    line_ms = tempo.to_ms(line)
    ms_after = tempo.to_ms(tick_after)
    action, reason = _account(tick, strokes, plan, carry, strength)
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
    )


def _per_hit(column: Floats, strokes: Strokes, missing: float) -> Floats:
    return np.asarray(np.append(column, missing)[strokes.of_hit])


def _account(
    tick: Floats, strokes: Strokes, plan: Plan, carry: Carry, strength: float
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

    fate = np.append(plan.fate, CARRIED)[strokes.of_hit]
    squeezed = np.append(carry.squeezed, False)[strokes.of_hit]
    stuck = squeezed & (np.append(carry.shift, 0.0)[strokes.of_hit] == 0)
    reference = np.zeros(len(tick), np.bool_)
    reference[strokes.reference] = True
    follows = (strokes.of_hit >= 0) & ~reference

    def tell(which: Bools, words: str) -> None:
        reason[which] = words

    moved, kept, held = fate == MOVED, fate == KEPT, plan.held.hit
    tell(fate == OFF_GRID, "off the grid")
    tell(fate == LINE_TAKEN, "line taken by a nearer stroke")
    tell(kept, "inside the window")
    tell(moved, "outside the window")
    tell(moved & squeezed, "outside the window but limited by a neighbour")
    tell(moved & (strength == 0), "outside the window but strength is 0")
    tell(moved & stuck, "outside the window but no room to move")
    tell((moved | kept) & follows, "with its stroke")
    tell(moved & limited, "limited at the start of the file")
    tell(held, "in a hold")
    tell(plan.held.blind, "no grid explains the section")
    idle = moved & ((strength == 0) | stuck)
    action = np.where(moved & ~idle, MOVED, np.where(kept | idle, KEPT, CARRIED))
    return np.where(held, HELD, action), reason
