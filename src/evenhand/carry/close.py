"""What audio can't be cut apart: hits with no room for a fade between them.

Between two attacks there must be room for a fade: behind the first one's own time and ahead of the
second one's lead. Where there is none (rolls, flams, hits struck together), the two are one block,
and the block follows its leader, the heaviest.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints

#: What stays whole ahead of an attack and behind it, and the shortest fade, ms. Common practice.
LEAD_MS, HOLD_MS, FADE_MS = 4.0, 30.0, 5.0

#: An anchor is heavier than any other hit by this.
ANCHOR_WEIGHT = 1000.0


@dataclass(frozen=True)
class Room:
    """What an attack needs around itself, in any unit of time.

    Attributes
    ----------
    lead : float
        Ahead of it.
    hold : float
        Behind it.
    fade : float
        The shortest fade.
    """

    lead: float
    hold: float
    fade: float

    def fits(self, gap: Floats | Ints, change: Floats | Ints) -> Bools:
        """Whether a change of shift fits between attacks that are so far apart."""
        free = gap - self.lead - self.hold
        once = free >= np.abs(change) + self.fade
        # What is gained can be gained in several turns; what is lost has to be there.
        turns = (change > 0) & (free >= 2 * self.fade)
        return np.asarray((change == 0) | once | turns)


@dataclass(frozen=True, eq=False)
class Spans:
    """Attacks or blocks of them in time order, n of them, and what each would do alone.

    Attributes
    ----------
    first, last : float64 arrays
        The first and the last attack of each.
    shift : float64 array
        How far it should move.
    weight : float64 array
        The heaviest of a block leads it, of equals the first.
    """

    first: Floats
    last: Floats
    shift: Floats
    weight: Floats

    def __len__(self) -> int:
        return len(self.first)

    def blocks(self, starts: Ints) -> "Spans":
        """Blocks that begin at some of them; each moves and weighs like its leader."""
        lead = _leaders(self.weight, starts)
        first = np.minimum.reduceat(self.first, starts)
        last = np.maximum.reduceat(self.last, starts)
        return Spans(first, last, self.shift[lead], self.weight[lead])


def join_close(spans: Spans, room: Room) -> Ints:
    """Find which of some spans begin a block, when all that has to move together is joined.

    Parameters
    ----------
    spans : Spans
        At least one.
    room : Room
        In their unit.
    """
    starts = np.arange(len(spans))
    while True:
        blocks = spans.blocks(starts)
        fits = room.fits(blocks.first[1:] - blocks.last[:-1], np.diff(blocks.shift))
        if fits.all():
            return starts
        starts = starts[np.append(True, fits)]


def _leaders(weight: Floats, starts: Ints) -> Ints:
    """The heaviest of each block, of equals the first."""
    most = np.maximum.reduceat(weight, starts)
    block = np.searchsorted(starts, np.arange(len(weight)), side="right") - 1
    tops = np.flatnonzero(weight == most[block])
    _, firsts = np.unique(block[tops], return_index=True)
    return np.asarray(tops[firsts])
