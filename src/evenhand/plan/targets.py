"""Targets: the line of each stroke, what it may keep of its lean, and how far off it is."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.ground import Ground, SectionDials
from evenhand.measure import Admissible, Measured, nearest
from evenhand.plan.lean import find_lean, follow_lean


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
    admissible : Admissible
        How far off its target each may be and still be left alone.
    near : bool array, shape (s,)
        Which strokes are near enough to belong to their line.
    claims : bool array, shape (s,)
        Which have their line for themselves.
    fill : int64 array, shape (s,)
        The fill that the line lies in; -1 for none.
    dials : SectionDials
        The settings for each stroke.
    """

    line: Floats
    deviation: Floats
    lean: Floats
    admissible: Admissible
    near: Bools
    claims: Bools
    fill: Ints
    dials: SectionDials

    @property
    def excess(self) -> Floats:
        """How far each stroke is from its target, ms."""
        return self.deviation - self.lean

    @property
    def outside(self) -> Bools:
        """Which strokes are too far off to be left alone."""
        return ~self.admissible.contains(self.excess)


def find_targets(ground: Ground, measured: Measured) -> Targets:
    """Find the target of each stroke.

    Parameters
    ----------
    ground : Ground
    measured : Measured
        Its hits against their lines.
    """
    at, time = ground.strokes.reference, ground.time
    dials = ground.dials.at(measured.section[at])
    line, deviation, near = measured.line[at], measured.off[at], measured.lined[at]
    lean = np.zeros(len(at))
    if dials.lean.any():
        told = measured.told[at]
        # Sections and pieces lean around the whole take, which may lean further than they do.
        whole = ground.whole.lean
        lean = find_lean(deviation - whole, told, dials.section, ground.hits.piece[at])
        if dials.lean_follow.any():
            bars = time.bars_at(line)
            place = bars.number + (line - bars.start) / (bars.stop - bars.start)
            lean = follow_lean(
                deviation - whole, told, dials.section, lean, place, dials.lean_follow
            )
        # That the whole take is early or late bothers nobody: half of the dial keeps it.
        lean = lean * dials.lean / 100 + whole * np.minimum(dials.lean / 50, 1.0)
    return Targets(
        line=line,
        deviation=deviation,
        lean=lean,
        admissible=measured.admissible.at(at),
        near=near,
        claims=near & nearest(line, np.abs(deviation - lean), near),
        fill=measured.fill[at],
        dials=dials,
    )
