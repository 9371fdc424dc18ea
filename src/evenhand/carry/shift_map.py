"""The map of time: shifts at knots, linear between them, constant outside."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Brief, Floats, Ints

#: Why a hit that is in no stroke goes where it goes: how it lies to the knots.
BETWEEN, NO_ANCHORS = "between anchors", "no anchors in the take"
BEFORE, AFTER = "before the first anchor", "after the last anchor"
SIDES = (BEFORE, BETWEEN, AFTER, NO_ANCHORS)


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

    def side(self, tick: Floats) -> Ints:
        """How each place lies to the knots: which of `SIDES`."""
        if not len(self.tick):
            return np.full(len(tick), SIDES.index(NO_ANCHORS))
        return np.asarray(1 + (tick > self.tick[-1]) - (tick < self.tick[0]).astype(np.int64))
