"""A take that is one fill: its shape is kept, its rush against the beat eased, its landing mended.

The task: no grid explains a fill of its own, since it mixes sixteenths, triplets and flams freely.
But it has beats: the hits nearest to the beats of the bar tell how it runs ahead or falls behind,
as a straight line through their deviations (Theil 1950 and Sen 1968: the middle of all slopes
between two of them). The whole fill is stretched by the part of that which is plainly there, so
that all proportions stay; a hit that lands on a beat at its end lands there.

Limits: with fewer than three beats struck, the fill is moved but not stretched; with fewer than
two it stays.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from evenhand.columns import Floats
from evenhand.grid import Grid, lines_at
from evenhand.ground import Ground
from evenhand.measure import noticed

# A hit is on a beat if it is no further off than this, ms. Common practice: beyond that it belongs
# to a subdivision.
_ON_BEAT_MS = 70.0


@dataclass(frozen=True, eq=False)
class Eased:
    """How far a fill goes.

    Attributes
    ----------
    shift : float64 array, shape (strokes,)
        Of each stroke, ms.
    end : float64 array
        Ticks of its first and last hit.
    end_shift : float64 array
        How far those go, ms.
    """

    shift: Floats
    end: Floats
    end_shift: Floats


def ease_lone_fill(ground: Ground) -> Eased | None:
    """Find how far each place of a take that is one fill goes; None for any other take."""
    if not ground.lone_fill:
        return None
    tick, time = ground.tick, ground.time
    order = np.argsort(tick, kind="stable")
    line = lines_at(tick[order], Grid(4), time.meter).tick
    off = time.between(line, tick[order])
    beat, first = np.unique(line[np.argsort(np.abs(off), kind="stable")], return_index=True)
    off = off[np.argsort(np.abs(off), kind="stable")][first]
    near = np.abs(off) <= _ON_BEAT_MS
    beat, off = time.ms(beat[near]), off[near]
    ends = tick[order[[0, -1]]]
    strength = ground.dials.strength[ground.layout.sections.of(ends)] / 100
    ms = time.ms(ends)
    run = _run(beat, off, ms)
    plainly = noticed(ends, time)
    run = run if (np.abs(run) > plainly).any() else np.zeros(2)
    places = time.ms(tick[ground.strokes.reference])
    shift = -strength[0] * np.interp(places, ms, run)
    end_shift = -strength * run
    # What lands on a beat at the end lands there.
    landing = ms[1] - off[-1] if len(off) else np.nan
    if len(off) and abs(landing - beat[-1]) < 1e-6 and abs(off[-1]) > plainly[1]:
        last = places >= ms[1] - ground.dials.together.max()
        shift[last], end_shift[1] = -strength[1] * off[-1], -strength[1] * off[-1]
    return Eased(shift, ends, time.shift(ends, end_shift))


def _run(beat: Floats, off: Floats, ends: Floats) -> Floats:
    """How far the fill is off at its ends: along a straight line, ms."""
    if len(beat) < 2:
        return np.zeros(2)
    slope = 0.0
    if len(beat) > 2:
        pairs = np.array(list(combinations(range(len(beat)), 2)))
        one, other = pairs.T
        slope = float(np.median((off[other] - off[one]) / (beat[other] - beat[one])))
    return np.asarray(np.median(off - slope * beat) + slope * ends)
