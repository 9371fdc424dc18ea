"""The plan: for each stroke its line, what is to become of it, and its shift."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import SLACK_MS, Bools, Floats, Words
from evenhand.grid.layout import Layout, fixed_layout
from evenhand.grid.lines import Grid, belongs
from evenhand.plan.holds import Held, Stretch, find_held
from evenhand.plan.strokes import Strokes
from evenhand.take.meter import MeterMap
from evenhand.take.tempo import TempoMap

#: What may become of a stroke.
MOVED, KEPT, HELD, OFF_GRID, LINE_TAKEN = "moved", "kept", "held", "off grid", "line taken"

# Just-noticeable displacement in an even sequence: about 6 ms below 240 ms between onsets, 2.5 %
# of the interval above (Friberg & Sundberg 1995, J. Acoust. Soc. Am. 98(5), 2524-2531).
_NOTICED_MS = 6.0
_NOTICED_SHARE = 0.025


@dataclass(frozen=True, eq=False)
class Plan:
    """What is to become of each of s strokes.

    Attributes
    ----------
    line : float64 array, shape (s,)
        The nearest line in ticks.
    deviation : float64 array, shape (s,)
        Of the reference from that line, ms; minus is early.
    window : float64 array, shape (s,)
        How far off it may be and still be left alone, ms.
    fate : str array, shape (s,)
        `MOVED`, `KEPT`, `HELD`, `OFF_GRID` or `LINE_TAKEN`.
    claims : bool array, shape (s,)
        Whether the stroke has its line for itself.
    shift : float64 array, shape (s,)
        Wanted shift in ticks, unrounded; 0 for all that are not moved.
    held : Held
    """

    line: Floats
    deviation: Floats
    window: Floats
    fate: Words
    claims: Bools
    shift: Floats
    held: Held

    @property
    def knots(self) -> Bools:
        """Which strokes are fixed points or targets of the map of time."""
        return np.isin(self.fate, (MOVED, KEPT, HELD))


def make_plan(
    tick: Floats,
    strokes: Strokes,
    grid: Grid | Layout,
    tempo: TempoMap,
    meter: MeterMap,
    *,
    reach: float,
    window: float | None,
    strength: float,
    holds: Sequence[Stretch] = (),
    lean: float = 0.0,
) -> Plan:
    """Decide about each stroke.

    Parameters
    ----------
    tick : float64 array, shape (hits,)
        When each hit sounds.
    strokes : Strokes
    grid : Grid or Layout
        One grid, or that of each section; strokes in a section without a grid are held.
    tempo : TempoMap
    meter : MeterMap
    reach : float
        How far from a line a stroke may be and still belong to it, percent of the gap.
    window : float, optional
        How far off a stroke may be and still be left alone, ms; None is the just-noticeable
        difference at the beat.
    strength : float
        How much of the excess a move takes away, percent.
    holds : sequence of (float, float)
        Stretches that stay as played, ticks.
    lean : float
        The push or drag that strokes may keep, ms.
    """
    layout = grid if isinstance(grid, Layout) else fixed_layout(grid)
    reference = tick[strokes.reference]
    played = tempo.to_ms(reference)
    lines = layout.lines_at(reference, meter)
    deviation = played - tempo.to_ms(lines.tick)
    excess = deviation - lean
    near = belongs(reference, lines, tempo, reach) & layout.explained(reference)
    claims = near & _nearest(lines.tick, np.abs(excess), near)
    widths = noticed(lines.tick, tempo, meter) if window is None else np.full(len(near), window)
    outside = np.abs(excess) > widths + SLACK_MS

    fate = np.where(near, np.where(claims, np.where(outside, MOVED, KEPT), LINE_TAKEN), OFF_GRID)
    held = find_held(tick, strokes, np.where(claims, lines.tick, np.nan), holds)
    if blind := layout.without_grid():
        held = held.with_blind(find_held(tick, strokes, np.full(len(near), np.nan), blind))
    fate = np.where(held.stroke, HELD, fate)
    target = tempo.to_tick(played - strength / 100 * excess)
    shift = np.where((fate == MOVED) & (strength > 0), target - reference, 0.0)
    return Plan(lines.tick, deviation, widths, fate, claims, shift, held)


def _nearest(line: Floats, distance: Floats, near: Bools) -> Bools:
    """Which strokes are the nearest of those on their line, of equals the earliest."""
    candidates = np.flatnonzero(near)
    # Distances that differ by floating-point noise only are equal.
    rounded = np.round(distance[candidates] / SLACK_MS)
    order = np.lexsort((candidates, rounded, line[candidates]))
    sorted_line = line[candidates][order]
    first = np.append(True, np.diff(sorted_line) > 0)[: len(order)]
    nearest = np.zeros(len(line), np.bool_)
    nearest[candidates[order[first]]] = True
    return nearest


def noticed(line: Floats, tempo: TempoMap, meter: MeterMap) -> Floats:
    """The just-noticeable difference at the beat there, ms."""
    beat = meter.bars_at(line).beat_ticks * tempo.ms_per_tick_at(line)
    return np.maximum(_NOTICED_MS, _NOTICED_SHARE * beat)
