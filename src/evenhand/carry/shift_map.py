"""The map of time: shifts at knots, linear between them, constant outside."""

from dataclasses import dataclass

import numpy as np

from evenhand.carry.squeeze import guard
from evenhand.columns import Bools, Floats, Ints
from evenhand.plan.plan import Plan
from evenhand.plan.strokes import Strokes

#: Decimals of a tick that count: what lies below is noise, and must not decide a tie.
_TICK_PLACES = 6


@dataclass(frozen=True, eq=False)
class ShiftMap:
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

    def moved(self, tick: Floats) -> Ints:
        """Where each place goes: a whole tick, the nearest, ties to even; never before 0."""
        exact = np.round(tick + self.at(tick), _TICK_PLACES)
        return np.maximum(np.rint(exact), 0).astype(np.int64)

    def starts_too_early(self, tick: Floats) -> Bools:
        """Which places would go before tick 0."""
        return np.asarray(np.round(tick + self.at(tick), _TICK_PLACES) < -0.5)


@dataclass(frozen=True, eq=False)
class Carry:
    """A map of time, and what the squeeze guard did to the plan.

    Attributes
    ----------
    map : ShiftMap
    shift : float64 array, shape (strokes,)
        Shift of each stroke that is a knot, in ticks; 0 for the others.
    squeezed : bool array, shape (strokes,)
        Which strokes could not move as far as wanted.
    """

    map: ShiftMap
    shift: Floats
    squeezed: Bools


def build_carry(tick: Floats, strokes: Strokes, plan: Plan) -> Carry:
    """Build the map of time from the plan.

    Parameters
    ----------
    tick : float64 array, shape (hits,)
        When each hit sounds.
    strokes : Strokes
    plan : Plan
    """
    knots = np.flatnonzero(plan.knots)
    # The edges of holds stand between the strokes like strokes that don't move.
    edge = plan.held.edge
    first = np.concatenate([strokes.first[knots], edge])
    last = np.concatenate([strokes.last[knots], edge])
    wanted = np.concatenate([plan.shift[knots], np.zeros(len(edge))])
    order = np.lexsort((last, first))
    settled, reduced = guard(first[order], last[order], wanted[order])
    stroke = np.append(knots, np.full(len(edge), -1))[order]
    real = stroke >= 0
    shift = np.zeros(len(strokes))
    squeezed = np.zeros(len(strokes), np.bool_)
    shift[stroke[real]] = settled[real]
    squeezed[stroke[real]] = reduced[real]

    of_knot = np.append(plan.knots, False)[strokes.of_hit]
    places = np.concatenate([tick[of_knot], edge])
    shifts = np.concatenate([shift[strokes.of_hit[of_knot]], np.zeros(len(edge))])
    order = np.argsort(places, kind="stable")
    return Carry(ShiftMap(places[order], shifts[order]), shift, squeezed)
