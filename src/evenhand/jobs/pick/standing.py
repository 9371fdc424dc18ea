"""What speaks for and against each take in each section."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.jobs.pick.matched import Matched

#: The median absolute deviation of a bell times this is its standard deviation: 1 / Φ⁻¹(3/4).
_BELL = 1.4826
# What is plainly heard: a stroke, and a bar as a whole, ms. Displacements of one instrument in a
# groove are noticed from 19-24 ms on (preprint doi 10.31234/osf.io/jsg94); a slip is a little more.
_SLIP_MS, _PUSH_MS = 30.0, 20.0
_SLIP_SPREADS = 3.0
# Fewest hits of a piece at a place that tell its habit; with fewer the piece's whole counts.
_FEWEST = 4
# Fewest takes of which most can be said to have a stroke.
_MAJORITY = 3

#: What counts against a take, each per bar but the spread, which is in ms.
FIGURES = ("spread", "slips", "pushes", "wrong", "missing")


@dataclass(frozen=True, eq=False)
class DividedTake:
    """The song in sections, s of them, and where each of h hits lies in it.

    Attributes
    ----------
    first : int64 array, shape (s,)
        The bar that each section begins with.
    bars : int64 array, shape (s,)
        How many bars with hits each has.
    name : tuple of str
    bar, section : int64 arrays, shape (h,)
    in_bar : float64 array, shape (h,)
        The line of each hit's stroke, quarters from the bar line.
    ms : float64 array, shape (h,)
        Distance of each hit from that line, ms.
    """

    first: Ints
    bars: Ints
    name: tuple[str, ...]
    bar: Ints
    section: Ints
    in_bar: Floats
    ms: Floats


@dataclass(frozen=True, eq=False)
class Standing:
    """Figures of t takes in s sections.

    Attributes
    ----------
    spread : float64 array, shape (t, s)
        Around the habit of each take, ms; NaN where nothing is played.
    slips, pushes, wrong, missing : int64 arrays, shape (t, s)
        Anchor hits far from their habit; bars that run ahead or behind as a whole; strokes that
        most takes don't have; strokes that most have and this one lacks.
    loud : float64 array, shape (t, s)
        Middle velocity of the hits that are no ghosts.
    lean : float64 array, shape (t, s)
        Middle distance from the strokes' middle over all takes, ms.
    bars : int64 array, shape (s,)
    """

    spread: Floats
    slips: Ints
    pushes: Ints
    wrong: Ints
    missing: Ints
    loud: Floats
    lean: Floats
    bars: Ints


def stand(takes: int, matched: Matched, divided: DividedTake) -> Standing:
    """Judge each take in each section.

    Parameters
    ----------
    takes : int
        How many there are.
    matched : Matched
    divided : DividedTake
    """
    shape = takes, len(divided.first)
    spread, loud, lean = (np.full(shape, np.nan) for _ in range(3))
    slips, pushes = np.zeros(shape, np.int64), np.zeros(shape, np.int64)
    rest = divided.ms - _habits(matched, divided)
    beside = divided.ms - _middles_of(matched.stroke, divided.ms)
    for take in range(takes):
        mine = (matched.take == take) & ~matched.ghost
        if not mine.any():
            continue
        limit = max(_SLIP_MS, _SLIP_SPREADS * _spread(rest[mine]))
        for section in range(shape[1]):
            here = np.flatnonzero(mine & (divided.section == section))
            if not len(here):
                continue
            cell = take, section
            own = rest[here] - np.median(rest[here])
            drift, pushed = _drift(divided.bar[here], own)
            spread[cell] = _spread(own)
            pushes[cell] = pushed
            slips[cell] = int((np.abs(own - drift)[matched.anchor[here]] > limit).sum())
            loud[cell] = float(np.median(matched.velocity[here]))
            lean[cell] = float(np.median(beside[here]))
    wrong, missing = _against_most(takes, matched, divided)
    return Standing(spread, slips, pushes, wrong, missing, loud, lean, divided.bars)


def _spread(values: Floats) -> float:
    """Spread around the middle, or rather around 0 where that is the middle."""
    return float(_BELL * np.median(np.abs(values - np.median(values))))


def _habits(matched: Matched, divided: DividedTake) -> Floats:
    """Where each hit's take usually has the piece at the place in the bar, ms from the line."""
    _, piece = np.unique(matched.piece, return_inverse=True)
    place = np.rint(divided.in_bar * 12).astype(np.int64)
    piece = piece + len(np.unique(piece)) * matched.take
    _, cell = np.unique(np.stack([piece, place]), axis=1, return_inverse=True)
    cell = cell.ravel()
    many = np.bincount(cell)[cell] >= _FEWEST
    return np.where(
        many, _middles_of(cell, divided.ms), _middles_of(piece.astype(np.int64), divided.ms)
    )


def _middles_of(group: Ints, values: Floats) -> Floats:
    """For each value the median of its group."""
    _, group = np.unique(group, return_inverse=True)
    order = np.lexsort((values, group))
    count = np.bincount(group)
    begin = np.cumsum(count) - count
    ordered = values[order]
    middle = (ordered[begin + (count - 1) // 2] + ordered[begin + count // 2]) / 2
    return np.asarray(middle[group])


def _drift(bar: Ints, own: Floats) -> tuple[Floats, int]:
    """How the bar of each hit lies as a whole, ms, and how many bars push."""
    drift = _middles_of(bar, own)
    numbers, index, count = np.unique(bar, return_index=True, return_counts=True)
    enough = count >= _FEWEST
    pushed = enough & (np.abs(drift[index]) > _PUSH_MS)
    follows = np.isin(bar, numbers[pushed])
    return np.where(follows, drift, 0.0), int(pushed.sum())


def _against_most(takes: int, matched: Matched, divided: DividedTake) -> tuple[Ints, Ints]:
    """Strokes that most takes don't have, and strokes of most that a take lacks."""
    shape = takes, len(divided.first)
    wrong, missing = np.zeros(shape, np.int64), np.zeros(shape, np.int64)
    if takes < _MAJORITY:
        return wrong, missing
    _, first = np.unique(matched.stroke, return_index=True)
    # What is a ghost in one take may be none in another: ghosts are matters of taste.
    ghost = np.bincount(matched.stroke, matched.ghost) > 0
    most = (2 * matched.count > takes) & ~ghost
    few = (2 * matched.count < takes) & ~ghost
    np.add.at(wrong, (matched.take, divided.section), few[matched.stroke].astype(np.int64))
    has = np.zeros((takes, len(matched.count)), np.bool_)
    has[matched.take, matched.stroke] = True
    section = divided.section[first]
    for take in range(takes):
        np.add.at(missing[take], section, (most & ~has[take]).astype(np.int64))
    return wrong, missing
