"""Grid lines: they restart at every bar line of the meter; swing moves every second one."""

import re
from dataclasses import dataclass

import numpy as np

from evenhand.columns import SLACK_MS, Bools, Brief, Floats, Ints
from evenhand.errors import SettingError
from evenhand.take import MeterMap, TempoMap, Timeline

GRID_NAMES = (
    *("1/4", "1/8", "1/16", "1/32", "1/4T", "1/8T", "1/16T", "1/32T"),
    *("1/16Q", "1/16S"),
)
STRAIGHT, TRIPLET = 50.0, 200 / 3

#: Lines in a quarter of quintuplets and septuplets, by their letter.
_TUPLETS = {"Q": 5, "S": 7}

#: Ticks within which two lines are one: floating-point noise, far below any real gap.
_SAME = 1e-6


@dataclass(frozen=True)
class Grid:
    """The spacing of lines within a bar.

    Attributes
    ----------
    unit : int
        Note value of the gap: 16 is a sixteenth.
    triplet : bool
        Three lines in the room of two.
    swing : float
        Where the second line of each pair stands, percent of the pair: 50 is straight, 66.7 a
        triplet. Triplet grids have no pairs, so swing does nothing there; nor have tuplets.
    tuplet : int
        5 or 7 for as many lines in a quarter; 0 for any other grid.
    """

    unit: int
    triplet: bool = False
    swing: float = STRAIGHT
    tuplet: int = 0

    @property
    def name(self) -> str:
        """`1/16`, with a `T` for triplets, `Q` for quintuplets, `S` for septuplets."""
        letters = {many: letter for letter, many in _TUPLETS.items()}
        return f"1/{self.unit}{'T' if self.triplet else letters.get(self.tuplet, '')}"

    @property
    def paired(self) -> bool:
        """Whether its lines come in pairs, which can swing."""
        return not (self.triplet or self.tuplet)

    @property
    def in_quarter(self) -> int:
        """How many lines there are in a quarter, of grids of eighths and finer."""
        return self.tuplet or self.unit * (3 if self.triplet else 2) // 8

    def offset(self, index: Ints, division: int) -> Floats:
        """Ticks from the bar line to each line, numbered from 0."""
        if self.tuplet:
            return np.asarray(index * float(division) / self.tuplet)
        if self.triplet:
            return np.asarray(index * (8.0 * division) / (3 * self.unit))
        place: Floats | Ints = index
        if self.swing != STRAIGHT:
            place = np.where(index & 1 == 1, index - 1 + self.swing / 50, index)
        return np.asarray(place * (4.0 * division) / self.unit)


def parse_grid(text: str, swing: float = STRAIGHT) -> Grid:
    """Read a grid such as `1/16`, `1/8T` or `1/16Q`.

    Raises
    ------
    SettingError
        If it is none of `GRID_NAMES`.
    """
    match = re.fullmatch(r"1/(\d+)([TQS]?)", text.strip().upper())
    if not match or match[0] not in GRID_NAMES:
        raise SettingError(f"grid: {text!r} is none of {', '.join(GRID_NAMES)}")
    return Grid(int(match[1]), match[2] == "T", swing, _TUPLETS.get(match[2], 0))


@dataclass(frozen=True, eq=False)
class Lines(Brief):
    """The line that each of n places belongs to, and the gap it lies in.

    Attributes
    ----------
    tick : float64 array
        The nearest line, of two equally near the earlier.
    below, above : float64 arrays
        The lines on both sides of the place; `below` may be the place itself.
    """

    tick: Floats
    below: Floats
    above: Floats


def lines_at(tick: Floats, grid: Grid, meter: MeterMap) -> Lines:
    """Find the lines around each place.

    Parameters
    ----------
    tick : float64 array, shape (n,)
        Places in ticks; below 0 the bars go on backwards, but the line is 0 at the least.
    """
    bars = meter.bars_at(tick)
    return lines_in(bars.start, bars.stop, tick, grid, meter.division)


def lines_in(start: Floats, stop: Floats, tick: Floats, grid: Grid, division: int) -> Lines:
    """The lines around each place, by the bars that the places lie in.

    Parameters
    ----------
    start, stop : float64 arrays, shape (n,)
        Of those bars, ticks.
    tick : float64 array, shape (n,)
    grid : Grid
    division : int
        Ticks per quarter note.
    """
    inside, length = tick - start, stop - start
    pair = float(grid.offset(np.array(2), division))
    # The last line that is not behind the place, nor at the end of its bar.
    passed = np.minimum(inside + _SAME, length - 2 * _SAME)
    if grid.paired and grid.swing != STRAIGHT:
        first = 2 * (passed / pair).astype(np.int64)
        last = first + (grid.offset(first + 1, division) <= passed)
    else:
        last = (passed / (pair / 2)).astype(np.int64)
    below, above = (grid.offset(index, division) for index in (last, last + 1))
    above = np.where(above < length - _SAME, above, length)
    early = inside - below <= above - inside + _SAME
    line = start + np.where(early, below, above)
    return Lines(np.maximum(line, 0.0), start + below, start + above)


def belongs(tick: Floats, lines: Lines, tempo: TempoMap, reach: float | Floats) -> Bools:
    """Which places are near enough to their line to belong to it.

    Parameters
    ----------
    tick : float64 array, shape (n,)
    lines : Lines
        The lines of those places.
    tempo : TempoMap
    reach : float or float64 array, shape (n,)
        Largest distance, percent of the gap (in ms) between the lines on both sides.
    """
    return _belongs(tempo.to_ms(tick), lines, tempo, reach)


def _belongs(ms: Floats, lines: Lines, tempo: TempoMap, reach: float | Floats) -> Bools:
    """The same of places whose time is known, ms."""
    distance = np.abs(ms - tempo.to_ms(lines.tick))
    gap = tempo.to_ms(lines.above) - tempo.to_ms(lines.below)
    return np.asarray(distance <= reach / 100 * gap + SLACK_MS)


def share_under_grids(tick: Floats, swing: float, time: Timeline, reach: float) -> dict[str, float]:
    """Share of places that belong to a line under each grid there is, percent.

    Hits strewn at random reach twice `reach` percent under any grid: read the shares against that.
    """
    if not len(tick):
        return {}
    shares = {}
    bars, ms = time.bars_at(tick), time.ms(tick)
    for name in GRID_NAMES:
        lines = lines_in(bars.start, bars.stop, tick, parse_grid(name, swing), time.division)
        near = _belongs(ms, lines, time.tempo, reach)
        shares[name] = float(100 * near.mean())
    return shares
