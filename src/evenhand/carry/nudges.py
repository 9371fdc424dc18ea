"""Nudges: strokes that the hand puts elsewhere, counted from where the plan put them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evenhand.carry.shift_map import Carry, ShiftMap
from evenhand.columns import Floats, Ints
from evenhand.ground import Ground, Strokes

#: Why a hit goes where the hand has put it.
NUDGED = "nudged by hand"


def nudge(ground: Ground, carry: Carry, nudges: Sequence[tuple[int, float]]) -> Carry:
    """Move some hits by hand, each with its stroke or with what it is bound to.

    The hand wins over strength, windows, holds and the squeeze guard; only the strokes on both
    sides are never overtaken.

    Parameters
    ----------
    ground : Ground
    carry : Carry
        Of the plan.
    nudges : sequence of (int, float)
        A hit and how many ms further it goes than it was to go.
    """
    tick, strokes, time = ground.tick, ground.strokes, ground.time
    hits, knots = carry.nudged.copy(), carry.map
    shift, squeezed = carry.shift.copy(), carry.squeezed.copy()
    for hit, ms in nudges:
        unit = _unit(hit, strokes)
        base = tick[hit] + carry.map.at(tick[[hit]])[0]
        wanted = float(time.tick(time.ms(base) + ms) - tick[hit])
        knots, got = _put(knots, np.sort(tick[unit]), wanted)
        hits[unit] = True
        stroke = int(strokes.of_hit[hit])
        if stroke >= 0:
            shift[stroke], squeezed[stroke] = got, False
    return replace(carry, map=knots, shift=shift, squeezed=squeezed, nudged=hits)


def _unit(hit: int, strokes: Strokes) -> Ints:
    """The hits that go where this one goes."""
    for group in (strokes.of_hit, strokes.bond):
        if group[hit] >= 0:
            return np.flatnonzero(group == group[hit])
    return np.array([hit])


def _put(knots: ShiftMap, places: Floats, wanted: float) -> tuple[ShiftMap, float]:
    """Put knots of one shift at some places, as far as the knots on both sides let them."""
    before, behind = knots.tick < places[0], knots.tick > places[-1]
    goal = knots.tick + knots.shift
    least = goal[before].max(initial=-np.inf) - places[0]
    most = goal[behind].min(initial=np.inf) - places[-1]
    shift = float(np.clip(wanted, min(least, most), max(least, most)))
    return (
        ShiftMap(
            np.concatenate([knots.tick[before], places, knots.tick[behind]]),
            np.concatenate([knots.shift[before], np.full(len(places), shift), knots.shift[behind]]),
        ),
        shift,
    )
