"""Nudges: hits that the hand puts elsewhere, counted from where the plan put them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evenhand.carry.carry import Carry
from evenhand.carry.meant import Nudged
from evenhand.carry.shift_map import ShiftMap
from evenhand.columns import Floats, Ints
from evenhand.ground import Ground, Strokes
from evenhand.habit import NAMES

#: Why a hit goes where the hand has put it.
NUDGED = "nudged by hand"


def nudge(ground: Ground, carry: Carry, nudges: Sequence[Nudged]) -> Carry:
    """Move some hits by hand: together with their stroke, or what their limb has of it alone.

    The hand wins over strength, windows, holds and the squeeze guard; only what is struck on both
    sides is never overtaken.

    Parameters
    ----------
    ground : Ground
    carry : Carry
        Of the plan.
    nudges : sequence of Nudged
    """
    tick, strokes, time = ground.tick, ground.strokes, ground.time
    maps = carry.maps
    if len(maps) == 1 and not all(one.together for one in nudges):
        maps *= len(NAMES)
    carry = replace(
        carry,
        maps=maps,
        nudged=carry.nudged.copy(),
        shift=carry.shift.copy(),
        squeezed=carry.squeezed.copy(),
        alone=carry.alone.copy(),
    )
    for one in nudges:
        hit, stroke = one.hit, int(strokes.of_hit[one.hit])
        unit = _unit(hit, strokes)
        if not one.together:
            unit = unit[carry.limb[unit] == carry.limb[hit]]
        places = np.sort(tick[unit])
        base = tick[hit] + carry.at(tick[[hit]], carry.limb[[hit]])[0]
        wanted = float(time.tick(time.ms(base) + one.ms) - tick[hit])
        limbs = range(len(carry.maps)) if one.together else [int(carry.limb[hit])]
        least, most = _room([carry.maps[limb] for limb in limbs], places)
        if not one.together:
            before, behind = _passed(ground, carry, unit)
            least, most = max(least, before), min(most, behind)
        got = float(np.clip(wanted, min(least, most), max(least, most)))
        changed = list(carry.maps)
        for limb in limbs:
            changed[limb] = _with_knots(changed[limb], places, got)
        carry = replace(carry, maps=tuple(changed))
        carry.nudged[unit] = True
        if stroke >= 0 and strokes.reference[stroke] in unit:
            carry.shift[stroke], carry.squeezed[stroke] = got, False
            carry.alone[stroke] = not one.together
    return carry


def _unit(hit: int, strokes: Strokes) -> Ints:
    """The hits that go where this one goes."""
    for group in (strokes.of_hit, strokes.bond):
        if group[hit] >= 0:
            return np.flatnonzero(group == group[hit])
    return np.array([hit])


def _room(maps: Sequence[ShiftMap], places: Floats) -> tuple[float, float]:
    """From where to where some places may shift between the knots on both sides of them."""
    least, most = -np.inf, np.inf
    for knots in maps:
        before, behind = knots.tick < places[0], knots.tick > places[-1]
        goal = knots.tick + knots.shift
        least = max(least, goal[before].max(initial=-np.inf) - places[0])
        most = min(most, goal[behind].min(initial=np.inf) - places[-1])
    return least, most


def _passed(ground: Ground, carry: Carry, unit: Ints) -> tuple[float, float]:
    """From where to where some hits may shift before they pass hits further off than `together`."""
    tick, ms = ground.tick, ground.time.ms(ground.tick)
    goal = tick + carry.at(tick)
    together = float(ground.dials.together.min())
    first, last = unit[np.argmin(tick[unit])], unit[np.argmax(tick[unit])]
    before, behind = ms < ms[first] - together, ms > ms[last] + together
    least = goal[before].max(initial=-np.inf) - tick[first]
    return float(least), float(goal[behind].min(initial=np.inf) - tick[last])


def _with_knots(knots: ShiftMap, places: Floats, shift: float) -> ShiftMap:
    before, behind = knots.tick < places[0], knots.tick > places[-1]
    return ShiftMap(
        np.concatenate([knots.tick[before], places, knots.tick[behind]]),
        np.concatenate([knots.shift[before], np.full(len(places), shift), knots.shift[behind]]),
    )
