"""Lean: the steady push or drag of a section and piece, which strokes may keep.

The task: tell what a section does on purpose from the scatter around it. The lean of a group of
strokes is the median of their deviations, so single strokes off their line do not turn it. A group
of few strokes says little about itself: its lean is drawn towards that of what it is part of, a
piece towards its section, a section towards the take, and a take with few strokes towards the
line.
"""

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words, median

#: No more than this is taken for a lean, ms: beyond it a section is late or early. Common practice.
CAP_MS = 20.0

# How many strokes the wider group counts for. A median of n strokes errs by π/2 × spread² / n
# (its asymptotic variance), so it is to be weighed against the spread of leans with
# π/2 × (spread inside a group / spread between groups)² strokes; 20 and 11 ms are those of takes by
# professionals (Groove MIDI Dataset).
_WEIGHT = np.pi / 2 * (20 / 11) ** 2

#: A residual counts for no more than this in a running lean, ms: what is further off is a slip.
_SLIP_MS = 25.0

# Entries of the largest table of a running lean.
_TABLE = 2**15


def find_lean(deviation: Floats, told: Bools, section: Ints, piece: Words) -> Floats:
    """Estimate the lean of each stroke's section and piece.

    Parameters
    ----------
    deviation : float64 array, shape (s,)
        From the line, ms; minus is early.
    told : bool array, shape (s,)
        Which strokes tell something: those that have a line.
    section : int64 array, shape (s,)
    piece : str array, shape (s,)

    Returns
    -------
    float64 array, shape (s,)
        In ms, from -`CAP_MS` to `CAP_MS`.
    """
    lean = np.zeros(len(deviation))
    if not told.any():
        return lean
    take = _drawn(deviation[told], 0.0)
    for one in np.unique(section):
        here = section == one
        whole = _drawn(deviation[told & here], take)
        for name in np.unique(piece[here]):
            mine = here & (piece == name)
            lean[mine] = _drawn(deviation[told & mine], whole)
    return np.clip(lean, -CAP_MS, CAP_MS)


def _drawn(deviation: Floats, towards: float) -> float:
    count = len(deviation)
    middle = median(deviation) if count else 0.0
    return float((count * middle + _WEIGHT * towards) / (count + _WEIGHT))


def follow_lean(
    deviation: Floats, told: Bools, section: Ints, lean: Floats, bar: Floats, follow: Floats
) -> Floats:
    """Let the lean run with a slow drift inside each section.

    Around each stroke a straight line is laid through what the strokes of its section are off
    their lean, those nearby counting more (weights falling to 0 at `follow` bars on both sides;
    locally weighted regression, Cleveland 1979, J. Am. Stat. Assoc. 74, 829-836).

    Parameters
    ----------
    deviation, told, section
        As in `find_lean`.
    lean : float64 array, shape (s,)
        What it found, ms.
    bar : float64 array, shape (s,)
        Where each stroke stands, in bars, in time order.
    follow : float64 array, shape (s,)
        How many bars on each side count; 0 keeps the lean constant.

    Returns
    -------
    float64 array, shape (s,)
        In ms, from -`CAP_MS` to `CAP_MS`.
    """
    result = lean.copy()
    residual = np.clip(deviation - lean, -_SLIP_MS, _SLIP_MS)
    for one in np.unique(section[follow > 0]):
        picked = np.flatnonzero(told & (section == one))
        place, off = bar[picked], residual[picked]
        strokes = np.flatnonzero((section == one) & (follow > 0))
        low = np.searchsorted(place, bar[strokes] - follow[strokes])
        high = np.searchsorted(place, bar[strokes] + follow[strokes])
        # So many at a time that a table of all that counts for them stays small.
        many = max(_TABLE // max(int((high - low).max(initial=0)), 1), 1)
        for begin in range(0, len(strokes), many):
            some = slice(begin, begin + many)
            mine, width = strokes[some], int((high - low)[some].max(initial=0))
            near = low[some, None] + np.arange(width)
            counts = near < high[some, None]
            near = np.minimum(near, max(len(place) - 1, 0))
            away = np.where(counts, place[near] - bar[mine, None], 0.0)
            weight = np.clip(1 - np.abs(away) / follow[mine, None], 0.0, 1.0) * counts
            result[mine] += _at_zero(away, off[near], weight, follow[mine])
    return np.clip(result, -CAP_MS, CAP_MS)


def _at_zero(away: Floats, off: Floats, weight: Floats, reach: Floats) -> Floats:
    """Heights at 0 of weighted straight lines, drawn towards level where they rest on little."""
    count, first = weight.sum(axis=1), (weight * away).sum(axis=1)
    # Two strokes on the section's own lean, half the reach away on either side, steady the line.
    count += 2
    second = (weight * away**2).sum(axis=1) + 2 * (reach / 2) ** 2
    total = (weight * off).sum(axis=1)
    turned = (weight * away * off).sum(axis=1)
    # Never 0: the two strokes lie on both sides.
    spread = count * second - first**2
    return np.asarray((second * total - first * turned) / spread)
