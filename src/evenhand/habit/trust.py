"""Trust: whether a stroke about half-way between two lines has slipped from the better one.

A stroke that is off by two fifths of a gap or more, or to which another line is nearer, may have
slipped, or may be meant as it is: a 32nd, a flam, a line that the grid does not have. What speaks
for a slip is weighed as in a logistic regression: how much better the line is than the next,
whether the piece is struck there in the bars nearby, whether moving it makes the steps beside it
more even, how far between the lines it is; against it speaks that others nearby lie between lines
as well (that is how this drummer plays) and that it is very far in ms. The weights were learnt from
slips planted in the tuning half of the takes; `python -m tests.evaluation.learn_slips FOLDER`
learns them again.
"""

import numpy as np

from evenhand.columns import Bools, Floats, Ints, clipped, greatest, median, numbered, picked
from evenhand.habit.evidence import Belonging

#: What speaks for a slip, and what it weighs.
WEIGHTS = {
    "always": -2.51,
    # Log of how many times likelier the line is than the second best.
    "margin": 0.13,
    # In what share of the bars nearby the piece is struck there (log).
    "struck nearby": 0.45,
    # What share of the anchors nearby lies between lines (log).
    "others between": -0.89,
    # By how much the steps beside it get less even, as a share of the most they can.
    "steps": -1.07,
    # How far off it is (10 ms), and as a share of the gap to the next line.
    "distance": -0.43,
    "share": 1.33,
}
#: Log-odds from which such a stroke is moved.
LIMIT = -0.8
#: From this share of the gap on a stroke lies between lines.
BETWEEN = 0.4

# Shares of the gap that count as between for the others; bars on each side that are nearby; how
# many anchors the whole take counts for there.
_OTHERS, _NEARBY, _WHOLE = 0.3, 4, 10


def gap_share(belonging: Belonging) -> Floats:
    """How far each hit is off its habit, as a share of the gap to the next line on that side."""
    pick, off = belonging.pick, belonging.off
    gap = belonging.near.ms[:, 1:] - belonging.near.ms[:, :-1]
    side = clipped(np.where(off < 0, pick - 1, pick), 0, gap.shape[1] - 1)
    return np.asarray(np.abs(off) / np.maximum(picked(gap, side), 1.0))


def nearer_by(belonging: Belonging, some: Ints) -> Floats:
    """How much nearer to some hits another line is than their own, ms; 0 where none is.

    Parameters
    ----------
    belonging : Belonging
    some : int64 array, shape (s,)
        Which hits.
    """
    off = np.abs(belonging.near.off[some] - median(belonging.deviation))
    return picked(off, belonging.pick[some]) + greatest(-off)


def find_trust(
    belonging: Belonging, reference: Ints, anchor: Bools, share: Floats, steps: Floats
) -> Floats:
    """The marks of each stroke, in the order of `WEIGHTS`: shape (s, marks).

    Parameters
    ----------
    belonging : Belonging
    reference : int64 array, shape (s,)
        The hit that stands for each stroke.
    anchor : bool array, shape (n,)
    share : float64 array, shape (n,)
        See `gap_share`.
    steps : float64 array, shape (s,)
        By how much moving each stroke makes the steps beside it less even, as a share of twice the
        move; minus is more even.
    """
    columns = {
        "always": np.ones(len(reference)),
        "margin": belonging.margin[reference],
        "struck nearby": belonging.marks[0, reference, belonging.pick[reference]],
        "others between": np.log(_others_between(belonging, reference, anchor, share)),
        "steps": steps,
        "distance": np.abs(belonging.off[reference]) / 10,
        "share": share[reference],
    }
    return np.stack([columns[name] for name in WEIGHTS], axis=1)


def _others_between(belonging: Belonging, reference: Ints, anchor: Bools, share: Floats) -> Floats:
    """The share of the anchors around each stroke, but itself, that lie between lines."""
    between = share > _OTHERS
    take = (np.count_nonzero(between & anchor) + 1) / (np.count_nonzero(anchor) + _WHOLE)
    # Bars in which anything is struck, in order: memory goes by hits, not by bars.
    bars, at = numbered(belonging.bar)
    low = np.searchsorted(bars, belonging.bar[reference] - _NEARBY)
    high = np.searchsorted(bars, belonging.bar[reference] + _NEARBY, "right")
    sums = []
    for which in (anchor, anchor & between):
        total = np.concatenate([[0], np.cumsum(np.bincount(at[which], minlength=len(bars)))])
        sums.append(total[high] - total[low])
    many, some = sums
    return np.asarray((some - between[reference] + _WHOLE * take) / (many + _WHOLE))
