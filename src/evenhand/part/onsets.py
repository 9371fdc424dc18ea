"""Where a part puts the lines: its onsets on the grid of the take, its own scatter smoothed.

A player's onset is where it means to be, give or take some ms. What it means is told by its habit
(where it usually lies at that place in the bar of such a section) and by its drift (how it runs
around that just there), both robust, both drawn towards less where they rest on little: the method
by which the drummer's own habit is found.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.errors import MidiFileError
from evenhand.grid import belongs
from evenhand.ground import Ground
from evenhand.habit import drawn
from evenhand.part.read import Part

# How many onsets the wider group counts for: the take against a section, that against a place.
_OF_SECTION, _OF_PLACE = 4.0, 3.0
# Drift: quarters on each side that count, the most that one onset may be off, ms, and how many
# onsets on the habit itself it is drawn towards.
_REACH, _SLIP_MS, _PRIOR = 4.0, 25.0, 4.0
#: All that is nearer to a line than to others is on it, percent of the gap.
_CERTAIN_REACH = 50.0
#: Parts of a quarter by which places in the bar are told apart.
_PLACES = 96


@dataclass(frozen=True, eq=False)
class Placed:
    """The lines on which a part has an onset, n of them, in time order.

    Attributes
    ----------
    name : str
    line : float64 array, shape (n,)
        Ticks of the take.
    off : float64 array, shape (n,)
        The onset's distance from the line, ms; minus is early.
    ms : float64 array, shape (n,)
        Where the part puts the line: the same with its scatter smoothed.
    velocity : int64 array, shape (n,)
    beside : int
        Onsets that share their line with a nearer one, or lie behind the take.
    """

    name: str
    line: Floats
    off: Floats
    ms: Floats
    velocity: Ints
    beside: int

    def __len__(self) -> int:
        return len(self.line)

    def at(self, line: Floats) -> Floats:
        """Where the part puts each line, ms; NaN where it has no onset.

        Parameters
        ----------
        line : float64 array, shape (n,)
            Ticks.
        """
        index = np.minimum(np.searchsorted(self.line, line - _SAME), max(len(self) - 1, 0))
        if not len(self):
            return np.full(len(line), np.nan)
        return np.where(np.abs(self.line[index] - line) <= _SAME, self.ms[index], np.nan)


#: Ticks within which two lines are one: floating-point noise, far below any real gap.
_SAME = 1e-3


def place_part(part: Part, ground: Ground) -> Placed:
    """Put the onsets of a part on the lines of a take.

    Parameters
    ----------
    part : Part
        Its ms are those of the take's ruler.
    ground : Ground
        Of the take.

    Raises
    ------
    MidiFileError
        If not one onset lies on a line of the take.
    """
    time = ground.time
    tick = ground.judged(time.tick(part.ms))
    inside = (tick >= -time.division) & (tick <= ground.take.end + time.division)
    lines = ground.layout.lines_at(tick, time.meter)
    near = inside & belongs(tick, lines, time.tempo, _CERTAIN_REACH) & ground.layout.explained(tick)
    off = time.between(lines.tick, tick)
    index = _nearest(lines.tick, off, np.flatnonzero(near))
    if not len(index):
        raise MidiFileError(
            f"{part.name}: none of its {len(part)} onsets lies on a line of {ground.take.name}; "
            "do both begin together (--song, --song-at)?"
        )
    line, off = lines.tick[index], off[index]
    return Placed(
        name=part.name,
        line=line,
        off=off,
        ms=_smoothed(line, off, ground),
        velocity=part.velocity[index],
        beside=int(len(part) - len(index)),
    )


def _nearest(line: Floats, off: Floats, which: Ints) -> Ints:
    """Of the onsets of each line the nearest, of equals the earlier; in the order of the lines."""
    order = which[np.lexsort((which, np.abs(off[which]), line[which]))]
    first = np.append(True, np.diff(line[order]) > _SAME)[: len(order)]
    return np.asarray(order[first])


def _smoothed(line: Floats, off: Floats, ground: Ground) -> Floats:
    """Habit and drift at each line, ms."""
    time, sections = ground.time, ground.layout.sections
    bars = time.bars_at(line)
    place = np.rint((line - bars.start) / time.division * _PLACES).astype(np.int64)
    names, kind = np.unique(sections.name, return_inverse=True)
    kind = kind[sections.of(line)]
    usual = np.full(len(off), float(np.median(off)))
    usual += drawn(off - usual, kind, len(names), _OF_SECTION)[kind]
    both, cell = np.unique(np.stack([kind, place]), axis=1, return_inverse=True)
    cell = cell.ravel()
    usual += drawn(off - usual, cell, both.shape[1], _OF_PLACE)[cell]
    return usual + _drift(line / time.division, np.clip(off - usual, -_SLIP_MS, _SLIP_MS))


def _drift(quarter: Floats, left: Floats) -> Floats:
    """What the onsets around each one have in common, itself left out."""
    drift = np.zeros(len(left))
    low = np.searchsorted(quarter, quarter - _REACH)
    high = np.searchsorted(quarter, quarter + _REACH, side="right")
    for index, (one, other) in enumerate(zip(low.tolist(), high.tolist(), strict=True)):
        weight = 1 - np.abs(quarter[one:other] - quarter[index]) / _REACH
        weight[index - one] = 0.0
        drift[index] = float(weight @ left[one:other]) / (float(weight.sum()) + _PRIOR)
    return drift
