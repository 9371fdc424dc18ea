"""One map of time for all limbs, from the plan (rules 10 and 11)."""

from dataclasses import dataclass

import numpy as np

from evenhand.carry.shift_map import ShiftMap
from evenhand.carry.squeeze import guard
from evenhand.columns import Bools, Floats, Ints, numbered
from evenhand.ground import Ground, Strokes
from evenhand.plan import Plan


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


def one_map(ground: Ground, plan: Plan) -> tuple[ShiftMap, Floats, Bools]:
    """Build the map of time from the plan.

    Returns
    -------
    ShiftMap
    shift : float64 array, shape (strokes,)
        In ticks; 0 for strokes that are no knots.
    squeezed : bool array, shape (strokes,)
        Which strokes could not move as far as wanted.
    """
    tick, strokes = ground.tick, ground.strokes
    knots = np.flatnonzero(plan.knots)
    begin, end, lead = bound_alone(tick, strokes, plan)
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
        alone = posts.map(tick, strokes).at(tick[lead])
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
    return posts.map(tick, strokes), shift, squeezed


def bound_alone(tick: Floats, strokes: Strokes, plan: Plan) -> tuple[Floats, Floats, Ints]:
    """First and last tick and leading hit of each group of bound hits that no knot takes along."""
    bound = (strokes.bond >= 0) & ~strokes.spread(plan.knots, False)
    numbers = numbered(strokes.bond[bound])[0]
    begin, end = np.full(len(numbers), np.inf), np.full(len(numbers), -np.inf)
    index = np.searchsorted(numbers, strokes.bond[bound])
    np.minimum.at(begin, index, tick[bound])
    np.maximum.at(end, index, tick[bound])
    return begin, end, strokes.lead[numbers]
