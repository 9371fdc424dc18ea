"""Targets: the line of each stroke, what it may keep of its lean, and how far off it is."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import SLACK_MS, Bools, Floats, Ints, Words
from evenhand.grid import Layout, belongs
from evenhand.plan.dials import Dials
from evenhand.plan.fills import Fills
from evenhand.plan.lean import find_lean, follow_lean
from evenhand.take import MeterMap, TempoMap

# Just-noticeable displacement in an even sequence: about 6 ms below 240 ms between onsets, 2.5 %
# of the interval above (Friberg & Sundberg 1995, J. Acoust. Soc. Am. 98(5), 2524-2531).
_NOTICED_MS = 6.0
_NOTICED_SHARE = 0.025


@dataclass(frozen=True, eq=False)
class Targets:
    """Where each of s strokes ought to be.

    Attributes
    ----------
    line : float64 array, shape (s,)
        The nearest line in ticks.
    deviation : float64 array, shape (s,)
        Of the reference from that line, ms; minus is early.
    lean : float64 array, shape (s,)
        What the stroke may keep of it, ms: its target lies that far from the line.
    window : float64 array, shape (s,)
        How far off its target it may be and still be left alone, ms.
    near : bool array, shape (s,)
        Which strokes are near enough to belong to their line.
    claims : bool array, shape (s,)
        Which have their line for themselves.
    fill : int64 array, shape (s,)
        The fill that the line lies in; -1 for none.
    """

    line: Floats
    deviation: Floats
    lean: Floats
    window: Floats
    near: Bools
    claims: Bools
    fill: Ints

    @property
    def excess(self) -> Floats:
        """How far each stroke is from its target, ms."""
        return self.deviation - self.lean

    @property
    def outside(self) -> Bools:
        """Which strokes are outside their window."""
        return np.asarray(np.abs(self.excess) > self.window + SLACK_MS)


def find_targets(
    reference: Floats,
    piece: Words,
    layout: Layout,
    fills: Fills,
    dials: Dials,
    tempo: TempoMap,
    meter: MeterMap,
) -> Targets:
    """Find the target of each stroke.

    Parameters
    ----------
    reference : float64 array, shape (s,)
        When the hit sounds that stands for the stroke, ticks.
    piece : str array, shape (s,)
        Of that hit.
    layout : Layout
    fills : Fills
    dials : Dials
    tempo : TempoMap
    meter : MeterMap
    """
    lines = layout.lines_at(reference, meter)
    line = lines.tick
    deviation = tempo.to_ms(reference) - tempo.to_ms(line)
    near = belongs(reference, lines, tempo, dials.reach) & layout.explained(reference)
    fill = fills.of(line)
    lean = np.zeros(len(line))
    if dials.lean.any():
        told = near & (fill < 0) & nearest(line, np.abs(deviation), near)
        lean = find_lean(deviation, told, dials.section, piece)
        if dials.lean_follow.any():
            bars = meter.bars_at(line)
            place = bars.number + (line - bars.start) / (bars.stop - bars.start)
            lean = follow_lean(deviation, told, dials.section, lean, place, dials.lean_follow)
        lean = lean * dials.lean / 100
    claims = near & nearest(line, np.abs(deviation - lean), near)
    auto = np.isnan(dials.window)
    window = np.where(auto, noticed(line, tempo, meter), dials.window)
    return Targets(line, deviation, lean, window, near, claims, fill)


def nearest(line: Floats, distance: Floats, near: Bools) -> Bools:
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
