"""The strokes that stand furthest outside, and runs of neighbours that err the same way."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, median
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
    outside = (begins < ends) & (np.append(sign, 0)[begins] != 0)
    found = []
    for begin, end in zip(begins[outside].tolist(), ends[outside].tolist(), strict=True):
        part = excess[begin:end]
        if end - begin >= RUN and len(np.unique(line[begin:end])) >= RUN:
            worst = float(part[np.argmax(np.abs(part))])
            found.append(Outlier(begin, end - 1, end - begin, median(part), worst))
        else:
            found += [
                Outlier(begin + i, begin + i, 1, off, off) for i, off in enumerate(part.tolist())
            ]
    return sorted(found, key=lambda one: -abs(one.off))
