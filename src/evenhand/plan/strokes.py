"""Strokes: anchor hits struck together, which move as one."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import SLACK_MS, Bools, Floats, Ints


@dataclass(frozen=True, eq=False)
class Strokes:
    """The strokes of a take in time order, s of them.

    Attributes
    ----------
    reference : int64 array, shape (s,)
        The hit that stands for the stroke: its loudest, the earliest of equals.
    first, last : float64 arrays, shape (s,)
        Ticks of its first and last hit.
    of_hit : int64 array, shape (hits,)
        The stroke of each hit; -1 where it is no anchor.
    """

    reference: Ints
    first: Floats
    last: Floats
    of_hit: Ints

    def __len__(self) -> int:
        return len(self.reference)

    def overlap(self, begin: float, end: float) -> Bools:
        """Which strokes lie at least in part between two ticks, both included."""
        return (self.first <= end) & (self.last >= begin)


def find_strokes(
    tick: Floats, ms: Floats, velocity: Ints, note: Ints, anchor: Bools, together: float
) -> Strokes:
    """Chain anchor hits into strokes.

    Parameters
    ----------
    tick, ms : float64 arrays, shape (hits,)
        When each hit sounds.
    velocity, note : int64 arrays, shape (hits,)
        0 to 127.
    anchor : bool array, shape (hits,)
    together : float
        Largest gap to the previous anchor hit of the same stroke, ms.
    """
    hit = np.flatnonzero(anchor)
    # Hits at one tick are told apart by their note, so that the order of tracks does not matter.
    hit = hit[np.lexsort((note[hit], tick[hit]))]
    begins = np.diff(ms[hit], prepend=-np.inf) > together + SLACK_MS
    stroke = np.cumsum(begins) - 1
    of_hit = np.full(len(tick), -1, np.int64)
    of_hit[hit] = stroke
    start = np.flatnonzero(begins)
    stop = np.append(start[1:], len(hit))[: len(start)]
    loudest_first = np.lexsort((np.arange(len(hit)), -velocity[hit], stroke))
    return Strokes(
        reference=hit[loudest_first[start]],
        first=tick[hit[start]],
        last=tick[hit[stop - 1]],
        of_hit=of_hit,
    )
