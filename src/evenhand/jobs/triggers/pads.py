"""Pads: the surfaces that can fire by themselves.

Zones of one piece share a pad. Two things are finer than pieces: the foot on the hat's pedal is no
second hit of the stick on the hat, and two crashes (or rides) are two cymbals. A kit map tells the
cymbals apart by the number in a sound's name or zone, as in `crash 2 edge`.
"""

import re

import numpy as np

from evenhand.columns import Ints, Words
from evenhand.kit import OTHER, KitMap, Sound

HAT, PEDAL = "hat", "hat pedal"
CLOSED, HALF, OPEN = "closed", "half", "open"
_CYMBALS = ("crash", "ride", "china", "splash")


def pad_of(sound: Sound) -> str:
    """The pad that a sound is played on.

    Examples
    --------
    >>> pad_of(Sound("snare", "rim", "snare rim")), pad_of(Sound("crash", "edge", "crash 2 edge"))
    ('snare', 'crash 2')
    """
    words = f"{sound.name} {sound.zone}"
    if sound.piece == HAT and "pedal" in words:
        return PEDAL
    number = re.search(r"\b[1-9]\b", words)
    if sound.piece in _CYMBALS and number:
        return f"{sound.piece} {number[0]}"
    return sound.piece


def opening_of(sound: Sound) -> str:
    """How far the hat is open by the sound's name: closed unless it says open or half."""
    words = f"{sound.name} {sound.zone}"
    if sound.piece != HAT or "pedal" in words:
        return ""
    return next((word for word in (HALF, OPEN) if word in words), CLOSED)


def pads(kit: KitMap, note: Ints) -> Words:
    """The pad of each note number; a note that the map lacks is a pad of its own.

    Parameters
    ----------
    kit : KitMap
    note : int64 array
    """
    names = [
        pad_of(kit.sounds[one]) if one in kit.sounds else f"{OTHER} {one}" for one in range(128)
    ]
    return np.array(names)[note]
