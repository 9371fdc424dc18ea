"""Borders of pushes: the line at which moving a push leaves the least uneven steps."""

import numpy as np

from evenhand.columns import Floats, Ints, clipped

# How far from its bar line a push may begin and stop, bars.
_BORDER = 0.125
# Borders are equally good where the steps they leave differ by less, ms.
_EQUAL = 1e-9
# Slack of places in bars: no two lines are so near to each other.
_SAME = 1e-9
# Lines that are tried on each side of a bar line, at the most; and numbers in one table.
_MOST, _ROOM = 32, 1 << 17


def find_borders(
    lines: Floats, level: Floats, at: Floats, way: Ints, taken: Floats
) -> tuple[Floats, Floats, Floats]:
    """Find where pushes begin or stop.

    Of borders that are equally good the one that is nearest to the bar line is taken; one that
    comes or goes slowly, over an eighth of a bar, only where it is better than all.

    Parameters
    ----------
    lines : float64 array, shape (k,)
        Where anything is struck, in bars, in order.
    level : float64 array, shape (k,)
        How far it is off there, ms.
    at : float64 array, shape (b,)
        The bar line of each border, in bars.
    way : int64 array, shape (b,)
        1 where a push begins, -1 where it stops.
    taken : float64 array, shape (b,)
        How much of the push is taken back, ms.

    Returns
    -------
    border, slow : float64 arrays, shape (b,)
        Where each lies, and how long the push comes or goes there, in bars.
    gain : float64 array, shape (b,)
        How much evener the steps get, as a share of what is taken back.
    """
    around = _lines_from(lines, at, 2 * _BORDER)[0]
    each = max(1, _ROOM // ((2 * _MOST + 1) * max(around.shape[1], 1)))
    parts = [
        _some(lines, level, at[one : one + each], way[one : one + each], taken[one : one + each])
        for one in range(0, len(at), each)
    ]
    border, slow, gain = np.concatenate(parts, axis=1)
    return border, slow, gain


def _lines_from(lines: Floats, at: Floats, reach: float) -> tuple[Ints, Ints]:
    """The lines around each place, a row for each place, and where each row ends."""
    first = np.searchsorted(lines, at - reach - _SAME)
    stop = np.searchsorted(lines, at + reach + _SAME)
    return first[:, None] + np.arange(max(int((stop - first).max()), 1)), stop[:, None]


def _some(lines: Floats, level: Floats, at: Floats, way: Ints, taken: Floats) -> Floats:
    """The same for as many borders as there is room for: shape (3, b)."""
    last = len(lines) - 1
    around, stop = _lines_from(lines, at, 2 * _BORDER)
    there = around < stop
    around = clipped(around, 0, last)
    place, before = lines[around], level[around]
    tried, stop = _lines_from(lines, at, _BORDER)
    if tried.shape[1] > 2 * _MOST:
        tried = np.searchsorted(lines, at)[:, None] + np.arange(-_MOST, _MOST)
    begin = lines[clipped(tried, 0, last)]
    may = (tried < stop) & (np.abs(begin - at[:, None]) <= _BORDER + _SAME)

    # How much of the push there is on each line, for each line that is tried, and if it is slow.
    inside = way[:, None, None] * (place[:, None] - begin[:, :, None])
    pushed = np.where(way[:, None, None] > 0, inside >= 0, inside > 0)
    slope = clipped(1 + way[:, None] * (place - at[:, None]) / _BORDER, 0.0, 1.0)
    pushed = np.concatenate([pushed, slope[:, None]], axis=1)

    both = there[:, 1:]
    after = before[:, None] - taken[:, None, None] * pushed
    left = np.where(both[:, None], np.abs(after[:, :, 1:] - after[:, :, :-1]), 0.0).sum(axis=2)
    was = np.where(both, np.abs(before[:, 1:] - before[:, :-1]), 0.0).sum(axis=1)
    left[:, :-1][~may] = np.inf
    best = left.min(axis=1)
    # Slowly comes last, after the furthest line.
    away = np.append(np.abs(begin - at[:, None]), np.full((len(at), 1), 1.0), axis=1)
    which = np.where(left <= best[:, None] + _EQUAL, away, np.inf).argmin(axis=1)
    slowly = which == begin.shape[1]
    row = np.arange(len(at))
    border = np.where(slowly, at, begin[row, which - slowly])
    found = border, np.where(slowly, _BORDER, 0.0), (was - best) / np.abs(taken)
    # Where no line is near there is nothing to choose from.
    return np.where(may.any(axis=1), found, (at, 0 * at, 0 * at))
