"""Blocks: attacks that the audio moves as one, and how far each block moves.

Which attacks can't be cut apart is said where MIDI is planned for audio (`carry/close.py`); a block
follows its loudest anchor, or its loudest hit.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.carry import Room, Spans, join_close
from evenhand.columns import Floats, Ints


@dataclass(frozen=True, eq=False)
class Units:
    """Attacks in time order, n of them, and what each would do alone.

    Attributes
    ----------
    at : int64 array
        Samples of the audio.
    first, last : int64 arrays
        From where to where it may be, where that is in doubt.
    shift : int64 array
        Samples it should move by.
    weight : float64 array
        The heaviest of a block leads it.
    hold : int64 array
        Samples behind it that stay whole if there is room.
    hit : int64 array
        Index of the hit; -1 for an attack that the take does not list.
    """

    at: Ints
    first: Ints
    last: Ints
    shift: Ints
    weight: Floats
    hold: Ints
    hit: Ints


@dataclass(frozen=True, eq=False)
class Blocks:
    """Blocks in time order, b of them; the first and the last are the ends of the files.

    Attributes
    ----------
    first, last : int64 arrays
        The first and the last attack of each, in samples.
    until : int64 array
        Up to where each stays whole if there is room, in samples.
    shift : int64 array
        How far each moves, in samples.
    of_unit : int64 array, shape (units,)
        The block of each attack.
    """

    first: Ints
    last: Ints
    until: Ints
    shift: Ints
    of_unit: Ints


def make_blocks(units: Units, frames: int, room: Room) -> Blocks:
    """Join what has to move together.

    Parameters
    ----------
    units : Units
    frames : int
        Length of the files.
    room : Room
    """
    # One end holds nothing and lies before the start. The other one takes nobody along: the last
    # sounds are cut off, or end earlier.
    first = np.concatenate([[-room.hold], units.first])
    last = np.concatenate([[-room.hold], units.last])
    shift = np.concatenate([[0], units.shift])
    until = np.concatenate([[0], units.last + units.hold])
    spans = Spans(first, last, shift, np.concatenate([[np.inf], units.weight]))
    starts = join_close(spans, room)
    found = spans.blocks(starts)
    end = frames + room.lead
    block = np.searchsorted(starts, np.arange(1, len(first)), side="right") - 1
    return Blocks(
        first=np.append(found.first, end).astype(np.int64),
        last=np.append(found.last, end).astype(np.int64),
        until=np.append(np.maximum.reduceat(until, starts), end).astype(np.int64),
        shift=np.append(found.shift, 0).astype(np.int64),
        of_unit=block,
    )
