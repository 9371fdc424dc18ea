"""Where the map of time puts things in the file."""

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.ground import Ground

#: Decimals of a tick that count: what lies below is noise, and must not decide a tie.
_TICK_PLACES = 6


def written(ground: Ground, tick: Floats, shift: Floats) -> Ints:
    """Where each place goes: a whole tick, the nearest, ties to even; never before 0.

    Parameters
    ----------
    ground : Ground
    tick : float64 array
        Where things are judged to sound, in ticks.
    shift : float64 array
        How far each of them moves, in ticks.
    """
    return np.maximum(np.rint(_exact(ground, tick, shift)), 0).astype(np.int64)


def go_before_start(ground: Ground, tick: Floats, shift: Floats) -> Bools:
    """Which places would go before tick 0."""
    return np.asarray(_exact(ground, tick, shift) < -0.5)


def _exact(ground: Ground, tick: Floats, shift: Floats) -> Floats:
    return np.round(ground.written(tick + shift), _TICK_PLACES)
