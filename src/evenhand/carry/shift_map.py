"""The map of time: shifts at knots, linear between them, constant outside."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Brief, Floats, Phrases

#: Why a hit that is in no stroke goes where it goes: how it lies to the knots.
BETWEEN, NO_ANCHORS = "between anchors", "no anchors in the take"
BEFORE, AFTER = "before the first anchor", "after the last anchor"


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
