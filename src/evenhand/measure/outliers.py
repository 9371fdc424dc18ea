"""The strokes that stand furthest outside, and runs of neighbours that err the same way."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats
from evenhand.measure.admissible import Admissible

#: Neighbours that err the same way before they are called a run. Common practice.
RUN = 3


@dataclass(frozen=True)
class Outlier:
    """A stroke, or a run of strokes, outside the window.

    Attributes
    ----------
    first, last : int
        Indices of the first and last stroke.
    strokes : int
    off : float
        How far the stroke is from the lean of its section, of a run the median, ms.
    furthest : float
        The largest such distance in it, ms.
    """

    first: int
    last: int
    strokes: int
    off: float
    furthest: float


def find_outliers(
    deviation: Floats, lean: Floats, admissible: Admissible, line: Floats
) -> list[Outlier]:
    """List what stands outside the window around the lean, furthest first; a run by its median.

    Parameters
    ----------
    deviation : float64 array, shape (s,)
        Of each stroke, ms; NaN where it has no line.
    lean : float64 array, shape (s,)
        The lean of its section, ms.
    admissible : Admissible
        Around the lean.
    line : float64 array, shape (s,)
        In ticks; a stroke that shares its line with another is no neighbour of a run.
    """
    excess = deviation - lean
    sign = admissible.side(excess)
    edges = np.flatnonzero(np.diff(sign) != 0) + 1
    begins, ends = np.append(0, edges), np.append(edges, len(sign))
    found = []
    for begin, end in zip(begins.tolist(), ends.tolist(), strict=True):
        if begin == end or sign[begin] == 0:
            continue
        lines = len(np.unique(line[begin:end]))
        groups = [(begin, end)] if lines >= RUN else [(one, one + 1) for one in range(begin, end)]
        for one, other in groups:
            part = excess[one:other]
            worst = part[np.argmax(np.abs(part))]
            found.append(Outlier(one, other - 1, other - one, float(np.median(part)), float(worst)))
    return sorted(found, key=lambda one: -abs(one.off))
