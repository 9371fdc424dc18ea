"""Nudges: strokes that the hand puts elsewhere, counted from where the plan put them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evenhand.carry.carry import Carry
from evenhand.carry.shift_map import ShiftMap
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
    hits, maps = carry.nudged.copy(), carry.maps
    shift, squeezed = carry.shift.copy(), carry.squeezed.copy()
    for hit, ms in nudges:
        unit = _unit(hit, strokes)
        base = tick[hit] + carry.at(tick[[hit]], carry.limb[[hit]])[0]
        wanted = float(time.tick(time.ms(base) + ms) - tick[hit])
        maps, got = _put(maps, np.sort(tick[unit]), wanted)
        hits[unit] = True
        stroke = int(strokes.of_hit[hit])
        if stroke >= 0:
            shift[stroke], squeezed[stroke] = got, False
    return replace(carry, maps=maps, shift=shift, squeezed=squeezed, nudged=hits)


def _unit(hit: int, strokes: Strokes) -> Ints:
    """The hits that go where this one goes."""
    for group in (strokes.of_hit, strokes.bond):
        if group[hit] >= 0:
            return np.flatnonzero(group == group[hit])
    return np.array([hit])


def _put(
    maps: tuple[ShiftMap, ...], places: Floats, wanted: float
) -> tuple[tuple[ShiftMap, ...], float]:
    """Put knots of one shift at some places, as far as the knots on both sides let them.

    They stand in the maps of all limbs, so that what is struck around them goes along.
    """
    least, most = -np.inf, np.inf
    for knots in maps:
        before, behind = knots.tick < places[0], knots.tick > places[-1]
        goal = knots.tick + knots.shift
        least = max(least, goal[before].max(initial=-np.inf) - places[0])
        most = min(most, goal[behind].min(initial=np.inf) - places[-1])
    shift = float(np.clip(wanted, min(least, most), max(least, most)))
    return tuple(_with_knots(knots, places, shift) for knots in maps), shift


def _with_knots(knots: ShiftMap, places: Floats, shift: float) -> ShiftMap:
    before, behind = knots.tick < places[0], knots.tick > places[-1]
    return ShiftMap(
        np.concatenate([knots.tick[before], places, knots.tick[behind]]),
        np.concatenate([knots.shift[before], np.full(len(places), shift), knots.shift[behind]]),
    )
