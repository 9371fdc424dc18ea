"""Blocks: attacks that the audio moves as one, and how far each block moves.

Between two attacks there must be room for a fade: behind the first one's own time and ahead of
the second one's lead. Where there is none (rolls, flams, hits struck together), the two are one
block, and the block follows its leader: its loudest anchor, or its loudest hit.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints


@dataclass(frozen=True)
class Room:
    """What an attack needs around itself, in samples.

    Attributes
    ----------
    lead : int
        Ahead of it.
    hold : int
        Behind it.
    fade : int
        The shortest fade.
    """

    lead: int
    hold: int
    fade: int

    def fits(self, gap: Ints, change: Ints) -> Bools:
        """Whether a change of shift fits between attacks that are so far apart."""
        free = gap - self.lead - self.hold
        once = free >= np.abs(change) + self.fade
        # What is gained can be gained in several turns; what is lost has to be there.
        turns = (change > 0) & (free >= 2 * self.fade)
        return np.asarray((change == 0) | once | turns)


@dataclass(frozen=True, eq=False)
class Units:
    """Attacks in time order, n of them, and what each would do alone.

    Attributes
    ----------
    at : int64 array
        Samples of the audio.
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
    # The ends: one before the start that holds nothing there, one behind the end without a lead.
    at = np.concatenate([[-room.hold], units.at, [frames + room.lead]])
    shift = np.concatenate([[0], units.shift, [0]])
    weight = np.concatenate([[np.inf], units.weight, [-np.inf]])
    until = np.concatenate([[0], units.at + units.hold, [frames + room.lead]])
    starts = np.arange(len(at))
    while True:
        first = at[starts]
        last = np.maximum.reduceat(at, starts)
        leader = _leaders(weight, starts)
        moves = shift[leader]
        tight = ~room.fits(first[1:] - last[:-1], np.diff(moves))
        # The end of the files takes nobody along: the last sounds are cut off, or end earlier.
        tight[-1] = False
        if not tight.any():
            break
        starts = starts[np.concatenate([[True], ~tight])]
    block = np.cumsum(np.isin(np.arange(len(at)), starts)) - 1
    return Blocks(first, last, np.maximum.reduceat(until, starts), moves, block[1:-1])


def _leaders(weight: Floats, starts: Ints) -> Ints:
    """The heaviest of each block, of equals the first."""
    most = np.maximum.reduceat(weight, starts)
    block = np.searchsorted(starts, np.arange(len(weight)), side="right") - 1
    tops = np.flatnonzero(weight == most[block])
    _, firsts = np.unique(block[tops], return_index=True)
    return np.asarray(tops[firsts])
