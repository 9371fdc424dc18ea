"""Syncopation: strokes that stand off their line on purpose, on a line of another grid.

The task: of the strokes outside their window, tell those that were meant for the other usual
subdivision: triplets of the eighth where the grid is straight, straight sixteenths where it is one
of triplets. Such a stroke

- stands inside the window around a line of that subdivision, and at most half as far from it as
  from its own;
- is further off its own line than scatter explains: more than three robust spreads of its section
  from the section's middle; and
- has nothing there that it could have slipped from: its own line is not one that its piece
  usually strikes. A kick that is on the second sixteenth in every bar and late in one is a slip.

Limits: where the pattern changes from bar to bar, a slip on a line that is seldom struck, by a
twelfth of a beat, late on the second sixteenth or early on the fourth, is taken for a syncopation:
timing does not tell them apart. In loose playing a twelfth of a beat is within the scatter, and
nothing is taken for a syncopation. Swung grids, which lie between the two subdivisions, have none.
All bounds are common practice (no source), tried on invented takes; see
tests/evaluate_judgement.py.
"""

from dataclasses import replace

import numpy as np

from evenhand.columns import Bools, Floats, median
from evenhand.grid import STRAIGHT, Grid, lines_at
from evenhand.ground import Ground, SectionDials
from evenhand.plan.targets import Targets
from evenhand.robust import spread_of

#: The other subdivision, where the grid is straight and where it is one of triplets.
_BESIDE_STRAIGHT, _BESIDE_TRIPLETS = Grid(8, triplet=True), Grid(16)

# How much nearer to the other line than to its own, and how many robust spreads off its own.
_NEARER, _SPREADS = 0.5, 3.0

#: Fewest strokes that a section's spread rests on; with fewer, the take's is used.
_FEWEST = 8

# A line is usually struck in this share of the bars; fewest bars of a section that tell.
_USUAL, _FEWEST_BARS = 0.25, 4

#: Decimals of a tick that count for the place in a bar.
_TICK_PLACES = 3


def keep_syncopation(ground: Ground, goal: Targets) -> tuple[Targets, Floats]:
    """Give strokes that are off their line on purpose the line that they stand on.

    Returns
    -------
    goal : Targets
    off : float64 array, shape (strokes,)
        How far each such stroke stands from the line of its section's grid, ms; 0 for all others.
    """
    wanted = goal.dials.syncopation
    off = np.zeros(len(wanted))
    if not wanted.any():
        return goal, off
    reference = ground.tick[ground.strokes.reference]
    beside = _lines_beside(ground, goal.dials)
    deviation = ground.time.between(beside, reference)
    away = deviation - goal.lean
    near = goal.admissible.contains(away) & (np.abs(away) <= _NEARER * np.abs(goal.excess))
    meant = wanted & goal.claims & goal.outside & (goal.fill < 0) & near
    meant &= _improbable(goal)
    meant &= ~_usual(meant, goal, ground)
    return (
        replace(
            goal,
            line=np.where(meant, beside, goal.line),
            deviation=np.where(meant, deviation, goal.deviation),
        ),
        np.where(meant, goal.deviation, off),
    )


def _lines_beside(ground: Ground, dials: SectionDials) -> Floats:
    """The nearest line of the other subdivision; NaN where there is none."""
    grids = ground.layout.grids
    triplets, none = (
        np.array(which)[dials.section]
        for which in (
            [grid is not None and grid.triplet for grid in grids],
            # A triplet grid has no pairs to swing; beside five or seven in a quarter lies nothing.
            [
                not grid or bool(grid.tuplet) or (grid.swing != STRAIGHT and grid.paired)
                for grid in grids
            ],
        )
    )
    reference = ground.seen(ground.tick[ground.strokes.reference])
    meter = ground.time.meter
    beside = np.where(
        triplets,
        lines_at(reference, _BESIDE_TRIPLETS, meter).tick,
        lines_at(reference, _BESIDE_STRAIGHT, meter).tick,
    )
    return np.where(none, np.nan, beside)


def _improbable(goal: Targets) -> Bools:
    """Which strokes are further off their line than the scatter of their section explains."""
    told = goal.claims & (goal.fill < 0)
    far = np.zeros(len(told), np.bool_)
    for section in np.unique(goal.dials.section):
        here = goal.dials.section == section
        some = told & here if (told & here).sum() >= _FEWEST else told
        if some.sum() >= _FEWEST:
            middle = median(goal.deviation[some])
            spread = spread_of(goal.deviation[some], middle)
            far |= here & (np.abs(goal.deviation - middle) > _SPREADS * spread)
    return far


def _usual(which: Bools, goal: Targets, ground: Ground) -> Bools:
    """Of some strokes, those whose own line is usually struck by the same piece.

    Usually: in a quarter of the bars of the section, or of the take if it has few bars.
    """
    usual = np.zeros(len(which), np.bool_)
    piece, section = ground.hits.piece[ground.strokes.reference], goal.dials.section
    bars = ground.time.bars_at(goal.line)
    place = np.round(goal.line - bars.start, _TICK_PLACES)
    good = goal.claims & ~goal.outside
    for stroke in np.flatnonzero(which):
        here = section == section[stroke]
        if len(np.unique(bars.number[here])) < _FEWEST_BARS:
            here = np.ones(len(which), np.bool_)
        same = here & good & (piece == piece[stroke]) & (place == place[stroke])
        often = len(np.unique(bars.number[here])) * _USUAL
        usual[stroke] = len(np.unique(bars.number[same])) >= often
    return usual
