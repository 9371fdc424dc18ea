"""The lines near each hit, and the place in the bar that each of them is.

A place is the number of a line in its bar. Places count together where the sections have one label,
one grid and one meter: such places are of one kind. So a verse that comes back adds to what is
known of the verse, a change of meter begins a new habit, and lines that swing differently in two
verses are still the same places. A bar that a new meter cuts off has the first places of a whole
one.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints, clipped, latest
from evenhand.grid import Grid, Layout
from evenhand.sections import Sections
from evenhand.take import MeterMap, Timeline

#: Lines looked at for each hit: two on each side.
LINES = 4

#: Lines to go by where no grid explains the hits: those of `Layout`.
_FALLBACK = Grid(16)
#: Lines of one bar, at the most: a bar of 255 whole notes in 1/32 triplets has fewer.
_PLACES = 1 << 15
# In ticks: surely inside the gap behind a line.
_INSIDE = 1e-3
# Where a swung second line may lie in its pair: from 20 to 80 %.
_SECOND = 0.3


@dataclass(frozen=True, eq=False)
class Near:
    """The lines around each of n hits, from the second before it to the second behind it.

    Attributes
    ----------
    tick, ms : float64 arrays, shape (n, `LINES`)
        Where they lie.
    off : float64 array, shape (n, `LINES`)
        How far the hit is from each, ms; minus is early.
    place : int64 array, shape (n, `LINES`)
        The place of each: its kind and its number in the bar in one, from 0.
    kind : int64 array, shape (n, `LINES`)
        Section label, grid and meter in one number, from 0.
    bar : int64 array, shape (n, `LINES`)
        The bar that each lies in.
    within : float64 array, shape (n, `LINES`)
        Where in its bar each lies, from 0 to 1.
    half_beat : int64 array, shape (n, `LINES`)
        Which half of a quarter note of the take each is nearest to.
    sections : Sections
    """

    tick: Floats
    ms: Floats
    off: Floats
    place: Ints
    kind: Ints
    bar: Ints
    within: Floats
    half_beat: Ints
    sections: Sections

    def __len__(self) -> int:
        return len(self.tick)


def near_lines(tick: Floats, layout: Layout, time: Timeline) -> Near:
    """Find the lines around each hit.

    Parameters
    ----------
    tick : float64 array, shape (n,)
        When each hit sounds.
    layout : Layout
    time : Timeline
    """
    meter = time.meter
    around = layout.lines_at(tick, meter)
    beyond = layout.lines_at(np.concatenate([around.below - 1.0, around.above + 1.0]), meter)
    before, behind = beyond.below[: len(tick)], beyond.above[len(tick) :]
    line = np.stack([before, around.below, around.above, behind], axis=1)
    ms = time.ms(line)
    flat = line.ravel() + _INSIDE
    section = layout.sections.of(flat)
    bars = meter.bars_at(flat)
    of_meter = latest(meter.tick, flat)
    kind, gap = _kinds(layout, meter)
    # The two lines of a pair are told by the half they lie in, so that swing does not count.
    pairs = (flat - bars.start) / gap[section] / 2
    pair = np.floor(pairs)
    number = (2 * pair + (pairs - pair > _SECOND)).astype(np.int64)
    kinds = kind[section, of_meter]
    return Near(
        tick=line,
        ms=ms,
        off=time.ms(tick)[:, None] - ms,
        place=(kinds * _PLACES + clipped(number, 0, _PLACES - 1)).reshape(line.shape),
        kind=kinds.reshape(line.shape),
        bar=bars.number.reshape(line.shape),
        within=_within(line.ravel() - bars.start, bars.stop - bars.start).reshape(line.shape),
        half_beat=np.rint(line / (meter.division / 2)).astype(np.int64),
        sections=layout.sections,
    )


def _within(into: Floats, length: Floats) -> Floats:
    """Which part of its bar lies before each place; the same for the same line of any bar."""
    return np.asarray(np.round(clipped(into / length, 0.0, 1.0), 9), np.float64)


def _kinds(layout: Layout, meter: MeterMap) -> tuple[Ints, Floats]:
    """A number for each section (row) and meter (column) that says which are alike; the gaps."""
    grids = [grid or _FALLBACK for grid in layout.grids]
    seen: dict[tuple[object, ...], int] = {}
    rows = []
    for name, grid in zip(layout.sections.kinds, grids, strict=True):
        own = (name, grid.unit, grid.triplet)
        rows.append(
            [
                seen.setdefault((*own, *one), len(seen))
                for one in zip(meter.beats.tolist(), meter.unit.tolist(), strict=True)
            ]
        )
    gap = np.array([float(grid.offset(np.array(2), meter.division)) / 2 for grid in grids])
    return np.array(rows, np.int64), gap
