"""Limbs: who plays a hit, and whether a limb slipped alone or the whole body did."""

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.habit.evidence import Belonging
from evenhand.kit import ACCENT, ROLE_OF_PIECE, TIMEKEEPER

#: The limbs. What belongs to none goes with the strokes that the whole body plays.
NO_LIMB, KICK_FOOT, SNARE_HAND, TIME_HAND, HAT_FOOT = range(5)
NAMES = ("", "kick foot", "snare hand", "time hand", "hat foot")

# Timekeepers further from a stroke than this say nothing about it, ms.
_NEAR_MS = 700.0
# A timekeeper that is off by so much of what the stroke is off, the same way, slipped with it.
_ALONG = 0.5

_HAND = ("snare", "side stick", *(f"tom {number}" for number in range(1, 7)))


def find_limbs(piece: Words, pedal: Bools) -> Ints:
    """Say which limb plays each hit.

    Parameters
    ----------
    piece : str array, shape (n,)
    pedal : bool array, shape (n,)
        Which hits are played by the foot on the hat's pedal.
    """
    names = piece.tolist()
    limb = {name: _limb(name) for name in set(names)}
    return np.where(pedal, HAT_FOOT, np.array([limb[name] for name in names], np.int64))


def _limb(piece: str) -> int:
    if piece == "kick":
        return KICK_FOOT
    if piece in _HAND:
        return SNARE_HAND
    return TIME_HAND if ROLE_OF_PIECE[piece] in (TIMEKEEPER, ACCENT) else NO_LIMB


def find_alone(belonging: Belonging, off: Floats, reference: Ints, keeper: Bools) -> Bools:
    """Which strokes slipped alone: the timekeeper at them, or around them, keeps its own time.

    Where no timekeeper is near, or where it is off in the same way, the whole body slipped.

    Parameters
    ----------
    belonging : Belonging
    off : float64 array, shape (n,)
        How far each hit is from its habit, ms.
    reference : int64 array, shape (s,)
        The hit that stands for each stroke.
    keeper : bool array, shape (n,)
        Which hits are of a timekeeper.
    """
    if not keeper.any() or not len(reference):
        return np.zeros(len(reference), np.bool_)
    lines = belonging.lines
    at, count = lines.at[keeper], len(lines.ms)
    many = np.bincount(at, minlength=count)
    mean = np.bincount(at, off[keeper], count) / np.maximum(many, 1)
    own = lines.at[reference]
    line, there = lines.beside(many > 0, own, _NEAR_MS)
    told = there.sum(axis=0)
    beside = np.where(there, mean[line], 0.0).sum(axis=0)
    here = many[own] > 0
    level = np.where(here, mean[own], beside / np.maximum(told, 1))
    along = np.sign(off[reference]) * level >= _ALONG * np.abs(off[reference])
    return np.asarray((here | (told > 0)) & ~along)
