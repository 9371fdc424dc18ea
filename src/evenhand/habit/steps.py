"""Steps: the intervals from each stroke to what is struck before and behind, all limbs.

What is heard is the step from the hit before: a kick that stands where it should feels early when
the hats that lead to it lag. A step is uneven by how much it differs from what it usually is there;
with the habit known that is the difference of what the two lines are off.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from evenhand.columns import Bools, Floats, Ints, clipped, indices
from evenhand.habit.evidence import Belonging

# Lines further apart are no neighbours, ms.
_NEIGHBOURS_MS = 1500.0
# From a line to the one before and the one behind.
_SIDES = np.array([[-1], [1]])


@dataclass(frozen=True, eq=False)
class Steps:
    """Lines on which anything is struck, k of them, and the s strokes on them.

    Attributes
    ----------
    off : float64 array, shape (s,)
        How far each stroke is off its habit, ms.
    level : float64 array, shape (k,)
        How far all that is struck on each line is off in the mean, ms.
    many : int64 array, shape (k,)
        How many hits that is.
    ms : float64 array, shape (k,)
        Where each lies.
    own : int64 array, shape (s,)
        The line of each stroke.
    beside : int64 array, shape (2, s)
        The lines before and behind it.
    near : bool array, shape (2, s)
        Whether there is one, and near enough.
    reach : float64 array, shape (2, s)
        What share of a shift of the stroke reaches the line beside it when the run between the
        strokes is carried: 0 where that line has a stroke of its own.
    """

    off: Floats
    level: Floats
    many: Ints
    ms: Floats
    own: Ints
    beside: Ints
    near: Bools
    reach: Floats

    def change(self, move: Floats, run: bool = False) -> Floats:
        """By how much the steps of each stroke get more uneven, in all, ms; minus is more even.

        Parameters
        ----------
        move : float64 array, shape (s,)
            How far each stroke moves, 0 where it stays.
        run : bool
            Whether what leads to a stroke, and away from it, is carried along.
        """
        after = self.level + np.bincount(self.own, move, len(self.level)) / self.many
        then = after[self.beside]
        if run:
            then += self.reach * move
        step = np.abs(self.off + move - then) - self._uneven
        return np.asarray(np.where(self.near, step, 0.0).sum(axis=0))

    @cached_property
    def _uneven(self) -> Floats:
        """How uneven the steps on both sides are, ms."""
        return np.abs(self.off - self.level[self.beside])

    def by(self, off: Floats, belonging: Belonging, reference: Ints) -> "Steps":
        """The same steps where hits are off by something else (see `find_steps`)."""
        lines = belonging.lines
        level = np.bincount(lines.at, off, len(lines.ms)) / lines.many
        return replace(self, off=off[reference], level=level)


def find_steps(belonging: Belonging, reference: Ints, off: Floats) -> Steps:
    """Find the steps beside each stroke.

    Parameters
    ----------
    belonging : Belonging
    reference : int64 array, shape (s,)
        The hit that stands for each stroke.
    off : float64 array, shape (n,)
        How far each hit is from where it usually lies, ms.
    """
    lines = belonging.lines
    at, ms, many = lines.at, lines.ms, lines.many
    own = at[reference]
    beside = clipped(own + _SIDES, 0, max(len(ms) - 1, 0))
    near = (beside != own) & (np.abs(ms[beside] - ms[own]) <= _NEIGHBOURS_MS)
    # Lines with strokes stand or move by themselves; those between go along by their share.
    struck = np.zeros(len(ms), np.bool_)
    struck[own] = True
    posts = indices(struck)
    index = np.searchsorted(posts, own) + _SIDES
    post = posts[clipped(index, 0, max(len(posts) - 1, 0))] if len(posts) else own + 0 * _SIDES
    way = np.abs(ms[own] - ms[post])
    share = np.abs(ms[beside] - ms[post]) / np.maximum(way, 1e-9)
    inside = (index >= 0) & (index < len(posts))
    reach = np.where(struck[beside], 0.0, np.where(inside, share, 1.0))
    level = np.bincount(at, off, len(ms)) / many
    return Steps(off[reference], level, many, ms, own, beside, near, reach)
