"""Double triggers: a pad rings and fires once more.

Such an echo comes within the mask time and is clearly softer than the hit. Drums also hold real
pairs like that: bounces of a buzz roll, drags, fast double kicks. What tells them apart:

- In a roll the neighbouring stroke keeps about the same distance, or several are as dense; an
  echo stands alone.
- Sticks and feet need time. In the takes of the Groove MIDI Dataset (Gillick et al., ICML 2019) a
  second hit within 25 ms is hardly ever softer than `LOUDEST` of the first; from there on real
  pairs slowly set in, most of them amid other fast strokes. There an echo must be softer still.
- A flam's second hit is the louder one, so it never comes into question.

How well the figures below do on real takes with planted faults is measured by
tests/evaluation/score_triggers.py.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import SLACK_MS, Bools, Floats, Ints, Words

#: How long after a hit its pad may echo, ms.
MASK_MS = 36.0
#: An echo is at most this loud, as a share of its hit's velocity (half a step for rounding).
LOUDEST = 0.6
#: Amid fast strokes, and later than `SURE_MS`, it must be softer.
LOUDEST_AMID_FAST = 0.55
SURE_MS = 28.0
#: Strokes closer than this are fast ones, ms.
FAST_MS = 70.0
#: No roll is faster than this, ms; its gaps differ by this factor at most.
ROLL_MS = 18.0
EVEN = 1.4
#: Strokes no further apart than this are dense; among three of them gaps may differ more, ms.
DENSE_MS = 45.0


@dataclass(frozen=True, eq=False)
class Echoes:
    """The echoes found, n of them.

    Attributes
    ----------
    hit : int64 array
        Index of each echo.
    of : int64 array
        Index of the hit that it repeats.
    """

    hit: Ints
    of: Ints


def find_doubles(ms: Floats, velocity: Ints, pad: Words, mask_ms: Floats) -> Echoes:
    """Find the hits that only echo the one before them on the same pad.

    Parameters
    ----------
    ms : float64 array, shape (n,)
        Times of the hits, in any order.
    velocity : int64 array, shape (n,)
    pad : str array, shape (n,)
    mask_ms : float64 array, shape (n,)
        How long after each hit its pad may echo, ms; 0 looks for none.
    """
    _, pad_number = np.unique(pad, return_inverse=True)
    order = np.lexsort((ms, pad_number))
    loud, mask = velocity[order], mask_ms[order]
    gap = _gaps(ms[order], pad_number[order])
    softer = loud[1:] < loud[:-1]
    near = (gap[1:-1] <= mask[:-1] + SLACK_MS) & (mask[:-1] > 0)

    echo = np.zeros(len(ms), np.bool_)
    source = np.arange(len(ms))
    for here in (np.flatnonzero(near & softer) + 1).tolist():
        # A pad that goes on ringing is measured by the blow that set it off.
        first = int(source[here - 1])
        if _is_echo(here, int(loud[first]), loud, gap, echo):
            echo[here], source[here] = True, first
    found = np.flatnonzero(echo)
    hit, of = order[found], order[source[found]]
    by_number = np.argsort(hit)
    return Echoes(hit[by_number], of[by_number])


def _gaps(time: Floats, pad: Ints) -> Floats:
    """The time before each hit of sorted pads, and behind the last; infinite between pads."""
    gap = np.full(len(time) + 1, np.inf)
    if len(time):
        gap[1:-1] = np.where(np.diff(pad) == 0, np.diff(time), np.inf)
    return gap


def _is_echo(here: int, blow: int, loud: Ints, gap: Floats, echo: Bools) -> bool:
    """Whether hit `here` only repeats a blow of this velocity."""
    earlier, since, until = gap[here - 1], gap[here], gap[here + 1]
    if loud[here] > LOUDEST * blow + 0.5:
        return False
    if since < ROLL_MS:
        return True
    if _even(since, until) or (_even(since, earlier) and not echo[here - 1]):
        return False
    if not echo[here - 1] and _in_a_roll(here, gap):
        return False
    fast = min(until, earlier) < FAST_MS and since > SURE_MS
    return bool(loud[here] <= (LOUDEST_AMID_FAST if fast else LOUDEST) * blow + 0.5)


def _in_a_roll(here: int, gap: Floats) -> bool:
    """Whether two gaps next to the one before hit `here` are dense: on both sides or in a row."""
    sides = ((-1, 1), (1, 2), (-1, -2))
    return any(all(ROLL_MS <= gap[here + by] <= DENSE_MS for by in side) for side in sides)


def _even(one: float, other: float) -> bool:
    return bool(other >= ROLL_MS and max(one, other) <= EVEN * min(one, other))
