"""What holds for a take as a whole, before any hit is judged: its place and its tempo.

A take that lies beside its lines is judged against lines that are moved by as much; one that has
another tempo than its file is not judged at all (rules 21 and 22 of the design).
"""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Floats
from evenhand.pulse import (
    Beside,
    OtherTempo,
    find_beside,
    hear_other_tempo,
    onsets_of,
)
from evenhand.take import Hits, Timeline


@dataclass(frozen=True)
class Whole:
    """What holds for a take as a whole; None where there is nothing to tell.

    Attributes
    ----------
    beside : Beside, optional
        Where the take lies; None where that can't be told.
    other : OtherTempo, optional
        The tempo of the hits, if it is another than that of the file.
    """

    beside: Beside | None = None
    other: OtherTempo | None = None

    @property
    def offset(self) -> float:
        """How far the lines are moved, ms; 0 where the take leans at the most."""
        return self.beside.offset if self.beside else 0.0

    @property
    def lean(self) -> float:
        """How far the whole take leans behind the lines that it is judged against, ms."""
        return self.beside.ms - self.beside.offset if self.beside else 0.0


#: A take whose bars and beats are right as its file has them.
AS_FILED = Whole()


def hear_whole(hits: Hits, tick: Floats, time: Timeline) -> Whole:
    """Hear where a take lies as a whole, and whether its tempo is that of the file.

    Parameters
    ----------
    hits : Hits
        With pieces and roles named.
    tick : float64 array, shape (hits,)
        When each hit sounds, the latency taken out.
    time : Timeline
    """
    tick = np.sort(tick)
    s = time.ms(tick) / 1000
    if not len(tick) or s[-1] <= s[0]:
        return AS_FILED
    onsets = onsets_of(hits).at(s)
    beat = tick / time.division
    place = (tick - time.bars_at(tick).start) / time.division
    other = hear_other_tempo(onsets, beat, place)
    if other:
        return Whole(other=other)
    # Under a tempo that changes, a clock that runs by beats; bars of odd eighths are of eighths.
    frequency = float((beat[-1] - beat[0]) / (s[-1] - s[0]))
    meter = time.meter
    whole = (4 * meter.beats % meter.unit == 0).all()
    beside = find_beside(onsets.at(beat / frequency), frequency if whole else 2 * frequency)
    return Whole(replace(beside, ms=round(beside.ms, 1)) if beside else None)
