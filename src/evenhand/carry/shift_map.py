"""The map of time: shifts at knots, linear between them, constant outside."""

from dataclasses import dataclass

import numpy as np

from evenhand.carry.squeeze import guard
from evenhand.columns import Bools, Brief, Floats, Ints, Phrases
from evenhand.ground import Ground, Strokes
from evenhand.plan import OUTSIDE, Plan

#: Why a hit that is in no stroke goes where it goes: how it lies to the knots.
BETWEEN, NO_ANCHORS = "between anchors", "no anchors in the take"
BEFORE, AFTER = "before the first anchor", "after the last anchor"

#: Why a stroke moves less far than it should.
LIMITED = "outside the window but limited by a neighbour"


@dataclass(frozen=True, eq=False)
class ShiftMap(Brief):
    """How far each place moves; non-decreasing, so that nothing overtakes anything.

    Attributes
    ----------
    tick, shift : float64 arrays, shape (k,)
        The knots in time order, in ticks.
    """

    tick: Floats
    shift: Floats

    def at(self, tick: Floats) -> Floats:
        """The shift at each place, in ticks."""
        if not len(self.tick):
            return np.zeros(len(tick))
        return np.asarray(np.interp(tick, self.tick, self.shift))

    def where(self, tick: Floats) -> Phrases:
        """How each place lies to the knots, as a reason for being carried."""
        if not len(self.tick):
            return np.full(len(tick), NO_ANCHORS, np.object_)
        words = np.array([BEFORE, BETWEEN, AFTER], np.object_)
        side = (tick > self.tick[-1]).astype(np.int64) - (tick < self.tick[0])
        return np.asarray(words[1 + side])


@dataclass(frozen=True, eq=False)
class Carry(Brief):
    """A map of time, and what the squeeze guard did to the plan.

    Attributes
    ----------
    map : ShiftMap
    shift : float64 array, shape (strokes,)
        Shift of each stroke that is a knot, in ticks; 0 for the others.
    squeezed : bool array, shape (strokes,)
        Which strokes could not move as far as wanted.
    why : str array, shape (strokes,)
        The reason of each stroke: the plan's, or that the guard has limited it.
    nudged : bool array, shape (hits,)
        Which hits the hand has put elsewhere.
    """

    map: ShiftMap
    shift: Floats
    squeezed: Bools
    why: Phrases
    nudged: Bools


@dataclass(frozen=True, eq=False)
class _Posts:
    """What stands in the map: strokes (by index), edges (-1), bound hits carried alone (-2)."""

    first: Floats
    last: Floats
    shift: Floats
    stroke: Ints

    def settled(self) -> tuple["_Posts", Bools]:
        """The same in time order, as far as the guard lets them move; and which it has limited."""
        order = np.lexsort((self.last, self.first))
        first, last = self.first[order], self.last[order]
        shift, reduced = guard(first, last, self.shift[order])
        return _Posts(first, last, shift, self.stroke[order]), reduced

    def map(self, tick: Floats, strokes: Strokes) -> ShiftMap:
        """The map: a knot at every hit of a stroke, at both ends of all else."""
        of_stroke = np.zeros(len(strokes))
        real = self.stroke >= 0
        of_stroke[self.stroke[real]] = self.shift[real]
        knot = np.zeros(len(strokes), np.bool_)
        knot[self.stroke[real]] = True
        hits = strokes.spread(knot, False)
        places = np.concatenate([tick[hits], self.first[~real], self.last[~real]])
        shifts = np.concatenate([of_stroke[strokes.of_hit[hits]], *[self.shift[~real]] * 2])
        order = np.argsort(places, kind="stable")
        return ShiftMap(places[order], shifts[order])


def build_carry(ground: Ground, plan: Plan) -> Carry:
    """Build the map of time from the plan."""
    tick, strokes = ground.tick, ground.strokes
    knots = np.flatnonzero(plan.knots)
    begin, end, lead = _bound_alone(tick, strokes, plan)
    # An edge inside a group that keeps its distances is the group's own.
    group = np.searchsorted(end, plan.edge, side="left")
    owned = np.append(begin, np.inf)[group] <= plan.edge
    # The edges of holds stand between the strokes like strokes that don't move.
    edge = plan.edge[~owned]
    posts = _Posts(
        first=np.concatenate([strokes.first[knots], edge]),
        last=np.concatenate([strokes.last[knots], edge]),
        shift=np.concatenate([plan.shift[knots], plan.edge_shift[~owned]]),
        stroke=np.append(knots, np.full(len(edge), -1)),
    )
    posts, reduced = posts.settled()
    limited = posts.stroke[reduced & (posts.stroke >= 0)]
    if len(begin):
        # Groups that no stroke takes along are carried like their leading hit, all of them alike.
        alone = posts.map(tick, strokes).at(lead)
        alone[group[owned]] = plan.edge_shift[owned]
        posts, reduced = _Posts(
            first=np.concatenate([posts.first, begin]),
            last=np.concatenate([posts.last, end]),
            shift=np.concatenate([posts.shift, alone]),
            stroke=np.append(posts.stroke, np.full(len(begin), -2)),
        ).settled()
        limited = np.append(limited, posts.stroke[reduced & (posts.stroke >= 0)])
    shift = np.zeros(len(strokes))
    real = posts.stroke >= 0
    shift[posts.stroke[real]] = posts.shift[real]
    squeezed = np.zeros(len(strokes), np.bool_)
    squeezed[limited] = True
    nobody = np.zeros(len(tick), np.bool_)
    why = np.where(squeezed & (plan.why == OUTSIDE), LIMITED, plan.why)
    return Carry(posts.map(tick, strokes), shift, squeezed, why, nobody)


def _bound_alone(tick: Floats, strokes: Strokes, plan: Plan) -> tuple[Floats, Floats, Floats]:
    """First, last and leading place of each group of bound hits that no knot takes along."""
    bound = (strokes.bond >= 0) & ~strokes.spread(plan.knots, False)
    numbers = np.unique(strokes.bond[bound])
    begin, end = np.full(len(numbers), np.inf), np.full(len(numbers), -np.inf)
    index = np.searchsorted(numbers, strokes.bond[bound])
    np.minimum.at(begin, index, tick[bound])
    np.maximum.at(end, index, tick[bound])
    return begin, end, tick[strokes.lead[numbers]]
