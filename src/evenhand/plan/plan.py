"""The plan: for each stroke its line, what is to become of it, and its shift."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.grid import Layout
from evenhand.plan.dials import Dials
from evenhand.plan.fills import Fills
from evenhand.plan.holds import (
    FILL_AS_PLAYED,
    LANDING_AS_PLAYED,
    NO_GRID,
    Held,
    Stretch,
    find_held,
    hold_strokes,
)
from evenhand.plan.rush import ends_of, whole_shifts
from evenhand.plan.spans import find_spans, number_spans
from evenhand.plan.strokes import Strokes
from evenhand.plan.syncopation import keep_syncopation
from evenhand.plan.targets import Targets, find_targets
from evenhand.take import MeterMap, TempoMap

#: What may become of a stroke.
MOVED, KEPT, HELD, OFF_GRID, LINE_TAKEN = "moved", "kept", "held", "off grid", "line taken"
IN_FILL = "in a fill"
FATES = (MOVED, KEPT, HELD, OFF_GRID, LINE_TAKEN, IN_FILL)

#: Ticks within which two lines are one: floating-point noise, far below any real gap.
_SAME = 1e-3


@dataclass(frozen=True, eq=False)
class Plan:
    """What is to become of each of s strokes.

    Attributes
    ----------
    line, deviation, lean, window : float64 arrays, shape (s,)
        See `Targets`.
    strength : float64 array, shape (s,)
        How much of its excess a move takes away, percent.
    fate : str array, shape (s,)
        One of `FATES`.
    claims : bool array, shape (s,)
        Whether the stroke has its line for itself and anchors something.
    shift : float64 array, shape (s,)
        Wanted shift in ticks, unrounded; 0 for all that are not moved.
    span : int64 array, shape (s,)
        Number of the span that the stroke moves with, from 1; 0 for none.
    whole : bool array, shape (s,)
        Which strokes move with a fill that is off as a whole.
    edge, edge_shift : float64 arrays
        Knots besides the strokes, in ticks: the ends of holds, and of fills that move as a whole.
    held : Held
    syncopation : float64 array, shape (s,)
        How far each stroke that stays off the grid on purpose is from the line of its section's
        grid, ms; its own `line` is the one that it stands on. 0 for all others.
    section : int64 array, shape (s,)
    """

    line: Floats
    deviation: Floats
    lean: Floats
    window: Floats
    strength: Floats
    fate: Words
    claims: Bools
    shift: Floats
    span: Ints
    whole: Bools
    edge: Floats
    edge_shift: Floats
    held: Held
    syncopation: Floats
    section: Ints

    @property
    def knots(self) -> Bools:
        """Which strokes are fixed points or targets of the map of time."""
        return np.isin(self.fate, (MOVED, KEPT, HELD))


def make_plan(
    tick: Floats,
    piece: Words,
    drums: Bools,
    strokes: Strokes,
    layout: Layout,
    fills: Fills,
    dials: Dials,
    tempo: TempoMap,
    meter: MeterMap,
    holds: Sequence[Stretch] = (),
) -> Plan:
    """Decide about each stroke.

    Parameters
    ----------
    tick : float64 array, shape (hits,)
        When each hit sounds.
    piece : str array, shape (hits,)
    drums : bool array, shape (hits,)
        The hits that show how a fill lies.
    strokes : Strokes
    layout : Layout
        The grid of each section; strokes in a section without a grid are held.
    fills : Fills
        Those that are not treated like anything else.
    dials : Dials
        The settings for each stroke.
    tempo : TempoMap
    meter : MeterMap
    holds : sequence of (float, float)
        Stretches that stay as played, ticks.
    """
    reference = tick[strokes.reference]
    played = tempo.to_ms(reference)
    goal = find_targets(reference, piece[strokes.reference], layout, fills, dials, tempo, meter)
    goal, syncopation = keep_syncopation(tick, piece, strokes, goal, layout, dials, tempo, meter)
    held = _find_held(tick, strokes, goal, layout, fills, holds, meter)
    near = np.where(goal.claims, np.where(goal.outside, MOVED, KEPT), LINE_TAKEN)
    fate = np.where(goal.near, near, OFF_GRID)
    # Inside a fill only the stroke on the line where it begins is an anchor.
    begin = np.append(fills.begin, np.nan)[goal.fill]
    in_fill = (goal.fill >= 0) & goal.claims
    fate = np.where(in_fill & (np.abs(goal.line - begin) > _SAME), IN_FILL, fate)
    fate = np.where(held.stroke, HELD, fate)

    want = np.where(fate == MOVED, -dials.strength / 100 * goal.excess, 0.0)
    fixed = (fate == HELD) | (dials.strength == 0) | (syncopation != 0)
    want, span = _in_spans(goal, fate, want, fixed, dials, tempo.ms_per_tick_at(reference))
    fate = np.where((want != 0) & (fate == KEPT), MOVED, fate)

    rush, ends, end_shift = _rushing(
        tick, drums & ~held.hit, layout, fills, goal, dials, tempo, meter
    )
    rush = np.append(rush, 0.0)[goal.fill]
    whole = in_fill & ~held.stroke & (rush != 0)
    fate, want = np.where(whole, MOVED, fate), np.where(whole, rush, want)
    # An end that is struck while a stroke goes on moves with that.
    knots = np.isin(fate, (MOVED, KEPT, HELD))
    alone = ~strokes.within(ends, knots)
    edge = np.concatenate([held.edge, ends[alone]])
    order = np.argsort(edge, kind="stable")
    return Plan(
        line=goal.line,
        deviation=goal.deviation,
        lean=goal.lean,
        window=goal.window,
        strength=dials.strength,
        fate=fate,
        claims=goal.claims & (fate != IN_FILL),
        shift=np.where(want == 0, 0.0, tempo.to_tick(played + want) - reference),
        span=span,
        whole=whole,
        edge=edge[order],
        edge_shift=np.concatenate([np.zeros(len(held.edge)), end_shift[alone]])[order],
        held=held,
        syncopation=np.where(fate == KEPT, syncopation, 0.0),
        section=dials.section,
    )


def _find_held(
    tick: Floats,
    strokes: Strokes,
    goal: Targets,
    layout: Layout,
    fills: Fills,
    holds: Sequence[Stretch],
    meter: MeterMap,
) -> Held:
    """What stays as played, and why."""
    nowhere = np.full(len(strokes), np.nan)
    held = find_held(tick, strokes, np.where(goal.claims, goal.line, nowhere), holds)
    if blind := layout.without_grid():
        held = held.also(find_held(tick, strokes, nowhere, blind, NO_GRID))
    if fills.as_played.any():
        as_played = np.append(fills.as_played, False)
        hits = as_played[fills.of(layout.lines_at(tick, meter).tick)]
        held = held.also(hold_strokes(tick, strokes, as_played[goal.fill], hits, FILL_AS_PLAYED))
    if fills.landing_as_played.any():
        landings = fills.end[fills.landing_as_played]
        landed = goal.claims & (np.abs(goal.line[:, None] - landings) <= _SAME).any(axis=1)
        nothing = np.zeros(len(tick), np.bool_)
        held = held.also(hold_strokes(tick, strokes, landed, nothing, LANDING_AS_PLAYED))
    return held


def _in_spans(
    goal: Targets, fate: Words, want: Floats, fixed: Bools, dials: Dials, tick_ms: Floats
) -> tuple[Floats, Ints]:
    """Where spans are wanted, the shift of each stroke in ms; and the number of each one's span."""
    span = np.zeros(len(want), np.int64)
    taking_part = np.isin(fate, (MOVED, KEPT, HELD))
    if not (dials.spans & taking_part).any():
        return want, span
    # Half a tick is left for rounding, so that what was inside on paper is inside in the file.
    width = np.maximum(goal.window - tick_ms / 2, 0.0)
    low, high = -goal.excess - width, -goal.excess + width
    low = np.where(goal.outside, low, np.minimum(low, 0.0))
    high = np.where(goal.outside, high, np.maximum(high, 0.0))
    low, high = np.where(fixed, 0.0, low), np.where(fixed, 0.0, high)
    want = want.copy()
    picked = np.flatnonzero(taking_part)
    # Strokes that are planned one by one part the spans on both sides of them.
    runs = np.flatnonzero(np.diff(dials.spans[picked].astype(np.int8))) + 1
    for run in np.split(picked, runs):
        if dials.spans[run[0]]:
            want[run] = find_spans(low[run], high[run], dials.span_cost[run])
            number = number_spans(want[run])
            span[run] = np.where(number > 0, number + span.max(), 0)
    return want, span


def _rushing(
    tick: Floats,
    drums: Bools,
    layout: Layout,
    fills: Fills,
    goal: Targets,
    dials: Dials,
    tempo: TempoMap,
    meter: MeterMap,
) -> tuple[Floats, Floats, Floats]:
    """How far each fill moves as a whole, ms; ticks and shifts of the ends of those that do."""
    if not len(fills) or not len(goal.line):
        return np.zeros(len(fills)), np.zeros(0), np.zeros(0)
    hit = np.flatnonzero(drums)
    hit = hit[np.argsort(tick[hit], kind="stable")]
    line = layout.lines_at(tick[hit], meter).tick
    fill = fills.of(line)
    fill = np.where(np.append(fills.as_played, False)[fill], -1, fill)
    # The lean, the window and the strength are those of the groove that leads into the fill.
    before = np.maximum(np.searchsorted(goal.line, fills.begin) - 1, 0)
    off = tempo.to_ms(tick[hit]) - tempo.to_ms(line) - goal.lean[before][fill]
    rush = whole_shifts(fill, off, goal.window[before]) * dials.strength[before] / 100
    ends = ends_of(fill, rush != 0)
    at = tick[hit][ends]
    return rush, at, tempo.to_tick(tempo.to_ms(at) + rush[fill[ends]]) - at
