"""Whether what was moved is heard nearer to what is usual: intervals alone, no lines.

Lines as the measure reads them (see `measures.evener`) put a sixteenth among eighths 100 ms off.
Here the interval from a moved stroke to what is struck before it, and behind it, is held against
the same interval in the other bars of the take, as it was played.
"""

import numpy as np
from tests.evaluation.score_judgement.measures import Share, count, moved_strokes
from tests.evaluation.score_judgement.playing import WITH_MS, Playing

from evenhand.columns import Floats, Ints

# Longer intervals are not heard as such; an interval of another bar has both its ends this near;
# so many bars must have it; what changed by less did not change, ms.
_LONGEST_MS, _SAME_MS, _FEWEST, _CHANGED_MS = 1500.0, 60.0, 4, 1.0
# Neighbours that moved alike to so many ms moved as one.
_ALIKE_MS = 2.0


def evener_as_heard(playing: Playing, after: Floats, bar_ms: float) -> tuple[Share, Share]:
    """Moved strokes, and moves, that brought intervals nearer to what they usually are.

    Of strokes that moved alike one after the other, as those of a push do, all intervals together
    are one move.

    Parameters
    ----------
    playing : Playing
    after : float64 array
    bar_ms : float
        How long a bar is.
    """
    stroke, gain = _gains(playing, after, bar_ms)
    shift = (after - playing.ms)[playing.reference]
    alike = (np.abs(np.diff(shift)) <= _ALIKE_MS) & moved_strokes(playing, after)[1:]
    move = np.concatenate([[0], np.cumsum(~alike)])[stroke] if len(shift) else stroke
    moves, index = np.unique(move, return_inverse=True)
    return count(gain > 0), count(np.bincount(index, gain, len(moves)) > 0)


def _gains(playing: Playing, after: Floats, bar_ms: float) -> tuple[Ints, Floats]:
    """Moved strokes whose intervals changed, and by how much they got nearer, ms."""
    order = np.argsort(playing.ms, kind="stable")
    onset = np.empty(len(order), np.int64)
    onset[order] = np.cumsum(np.diff(playing.ms[order], prepend=-np.inf) > WITH_MS) - 1
    many = np.bincount(onset)
    was, now = (np.bincount(onset, ms) / many for ms in (playing.ms, after))
    reference = playing.reference
    bars = int(np.ptp(playing.ms) / bar_ms) + 1 if len(playing) else 0
    away = bar_ms * np.concatenate([np.arange(-bars, 0), np.arange(1, bars + 1)])
    strokes, gains = [], []
    for stroke in np.flatnonzero(moved_strokes(playing, after)).tolist():
        hit = reference[stroke]
        mine = np.sort(playing.ms[reference][playing.piece[reference] == playing.piece[hit]])
        there = _nearest(mine, playing.ms[hit] + away)
        gain, changed = 0.0, False
        for beside in (onset[hit] - 1, onset[hit] + 1):
            if not 0 <= beside < len(was) or abs(was[beside] - playing.ms[hit]) > _LONGEST_MS:
                continue
            other = _nearest(was, was[beside] + away)
            same = np.abs(there - playing.ms[hit] - away) < _SAME_MS
            same &= np.abs(other - was[beside] - away) < _SAME_MS
            if same.sum() < _FEWEST:
                continue
            usual = np.median((there - other)[same])
            before = abs(playing.ms[hit] - was[beside] - usual)
            then = abs(after[hit] - now[beside] - usual)
            gain += before - then
            changed |= abs(before - then) > _CHANGED_MS
        if changed:
            strokes.append(stroke)
            gains.append(gain)
    return np.array(strokes, np.int64), np.array(gains, np.float64)


def _nearest(values: Floats, wanted: Floats) -> Floats:
    right = np.minimum(np.searchsorted(values, wanted), len(values) - 1)
    low, high = values[np.maximum(right - 1, 0)], values[right]
    return np.asarray(np.where(np.abs(low - wanted) < np.abs(high - wanted), low, high))
