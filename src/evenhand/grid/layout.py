"""The layout: which grid holds in which section."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Brief, Floats, indices, median
from evenhand.grid.choice import RARE, Choice, Fits, also_rare, choose_grid, decide, fit_candidates
from evenhand.grid.lines import Grid, Lines, lines_at, lines_in
from evenhand.sections import Sections
from evenhand.take import MeterMap, Timeline

#: Lines to measure by where no grid explains the hits.
_FALLBACK = Grid(16)

#: A section leaves the grid of the take only on good evidence: its own must be that much better
#: (mean log-likelihood per hit), on that many hits.
_BETTER = 0.06
_ENOUGH = 32


@dataclass(frozen=True, eq=False)
class Layout(Brief):
    """A grid for each of s sections.

    Attributes
    ----------
    sections : Sections
    grids : tuple of (Grid or None)
        One per section; None where no grid explains the hits.
    choices : tuple of Choice
        The evidence, one per section; empty where the grid was given.
    whole : Choice, optional
        The choice for the take as a whole.
    """

    sections: Sections
    grids: tuple[Grid | None, ...]
    choices: tuple[Choice, ...] = ()
    whole: Choice | None = None

    def lines_at(self, tick: Floats, meter: MeterMap) -> Lines:
        """The lines around each place, under the grid of its section."""
        grids = list(dict.fromkeys(self.grids))
        if len(grids) == 1:
            return lines_at(tick, grids[0] or _FALLBACK, meter)
        bars = meter.bars_at(tick)
        columns = np.empty((3, len(tick)))
        which = np.array([grids.index(one) for one in self.grids])[self.sections.of(tick)]
        for number, grid in enumerate(grids):
            mine = indices(which == number)
            lines = lines_in(
                bars.start[mine], bars.stop[mine], tick[mine], grid or _FALLBACK, meter.division
            )
            for column, found in zip(columns, (lines.tick, lines.below, lines.above), strict=True):
                column[mine] = found
        return Lines(*columns)

    def explained(self, tick: Floats) -> Bools:
        """Which places lie in a section that has a grid."""
        has = np.array([grid is not None for grid in self.grids])
        return np.asarray(has[self.sections.of(tick)])

    def without_grid(self) -> list[tuple[float, float]]:
        """Stretches, in ticks, of the sections that no grid explains; both ends included."""
        begin = np.append(-np.inf, self.sections.tick[1:])
        end = np.append(np.nextafter(self.sections.stop[:-1], -np.inf), np.inf)
        return [
            (float(one), float(other))
            for one, other, grid in zip(begin, end, self.grids, strict=True)
            if grid is None
        ]


def find_layout(
    tick: Floats, sections: Sections, time: Timeline, swing: float | None = None
) -> Layout:
    """Choose a grid for each section.

    Parameters
    ----------
    tick : float64 array, shape (n,)
        The places to go by: strokes and timekeepers.
    sections : Sections
    time : Timeline
    swing : float, optional
        Percent of a pair, if it is known; otherwise it is found.
    """
    place = (tick - time.bars_at(tick).start) / time.division
    quarter = time.tempo.ms_per_tick_at(tick) * time.division
    if len(sections) == 1:
        whole = choose_grid(place, _middle(quarter), swing=swing)
        return Layout(sections, (whole.lines,), (whole,), whole)
    section = sections.of(tick)
    mine = [section == one for one in range(len(sections))]
    parts = [place, *(place[its] for its in mine)]
    quarters = [_middle(quarter), *(_middle(quarter[its]) for its in mine)]
    fits = fit_candidates(parts, quarters, swing)
    whole = decide(fits[0], len(place))
    if whole.grid in RARE:
        others = [at for at, one in enumerate(fits) if one and whole.grid not in one]
        fits = also_rare(fits, others, parts, quarters, swing)
    choices = tuple(
        _choose(own, len(its), whole) for own, its in zip(fits[1:], parts[1:], strict=True)
    )
    return Layout(sections, tuple(choice.lines for choice in choices), choices, whole)


def _middle(values: Floats) -> float:
    return median(values) if len(values) else 500.0


def _choose(fits: Fits, places: int, whole: Choice) -> Choice:
    """The choice for one section; the take's own grid unless there is good evidence against it."""
    if places < _ENOUGH and whole.grid:
        return whole.taken_over(places)
    own = decide(fits, places)
    if whole.grid is None or own.grid is None or own.lines == whole.lines:
        return own
    # What fits the take's grid as well stays on it, even if a coarser one would do: a fill's
    # sixteenths would else be drawn to eighths.
    if fits[own.grid].fitting - fits[whole.grid].fitting < _BETTER:
        return decide(fits, places, take=whole.grid)
    return own
