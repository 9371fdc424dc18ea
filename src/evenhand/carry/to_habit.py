"""What goes towards another habit (`habit_from`): on top of the maps, each hit by its own amount.

Each limb has one map at the end, in which every hit that belongs to a line is a knot. Rule 11 holds
for the way as a whole. Where a hit would pass one of another limb (rule 20), both go by the mean of
their ways.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.carry.limb_knots import find_swaps, shift_at
from evenhand.carry.limb_maps import ALL, EDGE, GROUP, HIT, Knots, limb_maps
from evenhand.carry.shift_map import ShiftMap
from evenhand.columns import Floats, Ints, among
from evenhand.ground import Ground
from evenhand.habit import NAMES
from evenhand.kit import GRACE, ROLL
from evenhand.plan import HELD, MOVED, Plan, Towards

#: How often hits that would pass others are looked for; after some rounds what is around them is
#: given the same way, each round by so much more, ms.
_MEETING, _ROUNDS, _WIDER_MS = 6, 24, 40.0


def lean_maps(
    ground: Ground, plan: Plan, towards: Towards, maps: tuple[ShiftMap, ...], limb: Ints
) -> tuple[ShiftMap, ...]:
    """The maps with the way to another habit in them.

    Parameters
    ----------
    ground : Ground
    plan : Plan
    towards : Towards
        Of the plan.
    maps : tuple of ShiftMap
        Without it.
    limb : int64 array, shape (hits,)
    """
    units = _find_units(ground, plan, towards, limb)
    tick, ms = ground.tick, ground.time.ms(ground.tick)
    way, shift = units.way, shift_at(maps, tick, limb)
    limbs = len(NAMES) if limb.any() else 1
    for turn in range(_ROUNDS):
        leaned = limb_maps(units.knots(ground, shift, way, plan.held.edge), limbs)[0]
        goal = tick + shift_at(leaned, tick, limb)
        swaps = find_swaps(ground, goal)
        if not swaps:
            return leaned
        gone = ground.time.between(tick + shift, goal)
        way = way.copy()
        for pair in map(list, swaps):
            beside = max(turn - _MEETING, 0) * _WIDER_MS
            near = (ms >= ms[pair].min() - beside) & (ms <= ms[pair].max() + beside)
            way[units.of_hit[near if beside else pair]] = gone[pair].mean()
    return maps


@dataclass(frozen=True, eq=False)
class _Units:
    """What moves as one: strokes, bonds, and all else that one limb strikes together.

    Attributes
    ----------
    of_hit : int64 array, shape (hits,)
    lead : int64 array, shape (units,)
        The hit that stands for each.
    way : float64 array, shape (units,)
        How far each goes, ms; NaN for what is carried.
    kind : int64 array, shape (units,)
        `GROUP` or `HIT`.
    limb : int64 array, shape (hits,)
        The limb whose map each hit stands in, or `ALL`.
    """

    of_hit: Ints
    lead: Ints
    way: Floats
    kind: Ints
    limb: Ints

    def knots(self, ground: Ground, shift: Floats, way: Floats, holds: Floats) -> Knots:
        """The knots: each unit in the maps of the limbs that have a part in it; holds in all.

        Parameters
        ----------
        ground : Ground
        shift : float64 array, shape (hits,)
            How far each hit goes without it, ticks.
        way : float64 array, shape (units,)
            How far each unit is to go besides, ms; NaN for what is no knot.
        holds : float64 array
            The ends of holds, ticks.
        """
        tick, mine = ground.tick, np.flatnonzero(~np.isnan(way[self.of_hit]))
        key = self.of_hit[mine] * (len(NAMES) + 1) + self.limb[mine] - ALL
        keys, at = np.unique(key, return_inverse=True)
        first, last = np.full(len(keys), np.inf), np.full(len(keys), -np.inf)
        np.minimum.at(first, at, tick[mine])
        np.maximum.at(last, at, tick[mine])
        unit, limb = keys // (len(NAMES) + 1), keys % (len(NAMES) + 1) + ALL
        begin = shift[self.lead]
        goal = begin + ground.time.shift(tick[self.lead] + begin, np.nan_to_num(way))
        none = np.zeros(len(holds))
        edge = np.full(len(holds), ALL), len(way) + np.arange(len(holds))
        return Knots.joined(
            [
                Knots(first, last, goal[unit], limb, unit, self.kind[unit]),
                Knots(holds, holds, none, *edge, np.full(len(holds), EDGE)),
            ]
        )


def _find_units(ground: Ground, plan: Plan, towards: Towards, limb: Ints) -> _Units:
    strokes, limbs = ground.strokes, len(NAMES)
    count = len(strokes) * limbs
    # What a limb has of a stroke; all of it where the stroke is bound or moves in all limbs.
    together = strokes.spread(~ground.dials.limbs[plan.section], False)
    whole = np.zeros(len(strokes), np.bool_)
    whole[strokes.of_hit[(strokes.of_hit >= 0) & ((strokes.bond >= 0) | together)]] = True
    limb_of = np.where(
        strokes.spread(whole, False), strokes.spread(limb[strokes.reference], 0), limb
    )
    of_hit = np.where(strokes.of_hit >= 0, strokes.of_hit * limbs + limb_of, -1)
    bound = (of_hit < 0) & (strokes.bond >= 0)
    of_hit[bound] = count + strokes.bond[bound]
    hit = np.where(plan.held.hit, 0.0, towards.hit)
    stroke, lead = _parts(ground, plan, hit, of_hit)
    count += len(strokes.lead)
    # Ornaments go with what is around them.
    hit = np.where(among(ground.hits.role, (GRACE, ROLL)) & ~plan.held.hit, np.nan, hit)
    some = np.flatnonzero(of_hit < 0)
    carried = np.isnan(hit[some])
    some = some[np.lexsort((ground.tick[some], carried, limb[some]))]
    ms = ground.time.ms(ground.tick)
    # What one limb strikes within what is together is no two knots.
    apart = np.diff(ms[some]) > float(ground.dials.together.min())
    apart |= (np.diff(limb[some]) != 0) | (np.diff(np.isnan(hit[some])) != 0)
    begins = np.append(True, apart | np.isnan(hit[some[1:]]))[: len(some)]
    chain = np.cumsum(begins) - 1
    of_hit[some] = count + chain
    many = np.bincount(chain)
    way = np.concatenate(
        [
            stroke,
            np.nan_to_num(hit[strokes.lead]),
            np.bincount(chain, hit[some]) / np.maximum(many, 1),
        ]
    )
    kind = np.full(len(way), GROUP)
    kind[count:] = np.where(many > 1, GROUP, HIT)
    return _Units(
        of_hit=of_hit,
        lead=np.concatenate([lead, strokes.lead, some[begins]]),
        way=way,
        kind=kind,
        limb=np.where(together, ALL, limb),
    )


def _parts(ground: Ground, plan: Plan, hit: Floats, of_hit: Ints) -> tuple[Floats, Ints]:
    """How far what a limb has of a stroke goes, ms (NaN: carried), and a hit that stands for it."""
    strokes, count = ground.strokes, len(ground.strokes) * len(NAMES)
    anchor = np.flatnonzero(strokes.anchor & (strokes.of_hit >= 0) & ~np.isnan(hit))
    many = np.bincount(of_hit[anchor], minlength=count)
    way = np.bincount(of_hit[anchor], hit[anchor], count) / np.where(many > 0, many, np.nan)
    of_part = np.arange(count) // len(NAMES)
    way = np.where((plan.fate == MOVED)[of_part], np.nan_to_num(way), way)
    judged = plan.by_habit[of_part]
    way = np.where(judged, way, np.where(plan.knots[of_part], 0.0, np.nan))
    way = np.where((plan.fate == HELD)[of_part], 0.0, way)
    lead = strokes.reference[of_part]
    mine = np.flatnonzero(strokes.of_hit >= 0)[::-1]
    lead[of_hit[mine]] = mine
    lead[of_hit[strokes.reference]] = strokes.reference
    return way, lead
