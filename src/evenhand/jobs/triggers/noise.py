"""Misfires put into a take on purpose: for trying the cleaning out, and for its tests."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words

#: A pad's echo: how long after the hit (ms) and how loud (share of its velocity).
ECHO_MS, ECHO_SHARE = (8.0, 35.0), (0.15, 0.6)
#: A shaken pad's answer, likewise.
ANSWER_MS, ANSWER_SHARE = (1.0, 6.0), (0.08, 0.35)


@dataclass(frozen=True, eq=False)
class Misfires:
    """Hits that nobody played, n of them.

    Attributes
    ----------
    of : int64 array
        Index of the hit that caused each.
    delay_ms : float64 array
    velocity, note : int64 arrays
    """

    of: Ints
    delay_ms: Floats
    velocity: Ints
    note: Ints


def plant_echoes(rng: np.random.Generator, velocity: Ints, note: Ints, share: float) -> Misfires:
    """Double triggers behind hits drawn at random.

    Parameters
    ----------
    rng : numpy.random.Generator
    velocity, note : int64 arrays, shape (hits,)
    share : float
        How many of the hits are echoed, 0 to 1.
    """
    return _misfires(rng, velocity, note, rng.random(len(note)) < share, ECHO_MS, ECHO_SHARE)


def plant_crosstalk(
    rng: np.random.Generator,
    velocity: Ints,
    pad: Words,
    source: str,
    note: int,
    share: float,
    softest: int = 60,
) -> Misfires:
    """Crosstalk from one pad to another.

    Parameters
    ----------
    rng : numpy.random.Generator
    velocity : int64 array, shape (hits,)
    pad : str array, shape (hits,)
    source : str
        The pad that is struck.
    note : int
        The note that the shaken pad sends.
    share : float
        How many of its louder hits shake the other, 0 to 1.
    softest : int
        The velocity from which on they do.
    """
    loud: Bools = (pad == source) & (velocity >= softest)
    struck = loud & (rng.random(len(pad)) < share)
    return _misfires(rng, velocity, np.full(len(pad), note), struck, ANSWER_MS, ANSWER_SHARE)


def _misfires(
    rng: np.random.Generator,
    velocity: Ints,
    note: Ints,
    struck: Bools,
    delay: tuple[float, float],
    share: tuple[float, float],
) -> Misfires:
    of = np.flatnonzero(struck)
    loud = np.round(velocity[of] * rng.uniform(*share, len(of)))
    return Misfires(
        of, rng.uniform(*delay, len(of)), np.maximum(loud, 1).astype(np.int64), note[of]
    )
