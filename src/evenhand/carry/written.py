"""Where the map of time puts things in the file."""

import numpy as np

from evenhand.carry.shift_map import ShiftMap
from evenhand.columns import Bools, Floats, Ints
from evenhand.ground import Ground

#: Decimals of a tick that count: what lies below is noise, and must not decide a tie.
_TICK_PLACES = 6


def written(ground: Ground, shifts: ShiftMap, tick: Floats) -> Ints:
    """Where each place goes: a whole tick, the nearest, ties to even; never before 0.

    Parameters
    ----------
    ground : Ground
    shifts : ShiftMap
    tick : float64 array
        Where things are judged to sound, in ticks.
    """
    return np.maximum(np.rint(_exact(ground, shifts, tick)), 0).astype(np.int64)


def go_before_start(ground: Ground, shifts: ShiftMap, tick: Floats) -> Bools:
    """Which places would go before tick 0."""
    return np.asarray(_exact(ground, shifts, tick) < -0.5)


def _exact(ground: Ground, shifts: ShiftMap, tick: Floats) -> Floats:
    return np.round(ground.written(tick + shifts.at(tick)), _TICK_PLACES)
