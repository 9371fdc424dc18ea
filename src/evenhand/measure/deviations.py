"""How hits stand to their lines: the table of deviations, and the one function that sums it up.

The lean of a section is the median deviation of its anchor hits that belong to a line, fills and
all, from that line. The assessment, the summary of a pass and the listening page all say this
number. What a plan keeps of it, its target, is another thing (see `plan.lean`), and so is what is
counted around the target (`outcome.Tightness`).
"""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import SLACK_MS, Bools, Brief, Floats, Ints, indices, median, numbered
from evenhand.grid import belongs
from evenhand.ground import Ground
from evenhand.measure.admissible import Admissible, noticed
from evenhand.robust import medians, spread_of, straight_line, thinned
from evenhand.take import Timeline

# A trend is told only where it is surely there: on that many bars, over that many ms in all, and
# beyond chance.
_TREND_BARS = 6
_TREND_MS = 4.0


@dataclass(frozen=True, eq=False)
class Measured(Brief):
    """The table of deviations: each of n hits against its line.

    Attributes
    ----------
    line : float64 array
        In ticks; hits of one stroke share the line of its reference.
    off : float64 array
        From that line, ms, minus is early, whether the hit belongs to it or not.
    lined : bool array
        Which hits belong to their line.
    told : bool array
        Which of them tell how the groove lies: those that have their line for themselves, fills
        left out.
    admissible : Admissible
        How far off its target a stroke may be there and still be left alone.
    bar : int64 array
        The bar of the line.
    section, fill : int64 arrays
        What the line lies in; -1 for no fill.
    """

    line: Floats
    off: Floats
    lined: Bools
    told: Bools
    admissible: Admissible
    bar: Ints
    section: Ints
    fill: Ints

    @property
    def last_bar(self) -> int:
        """The bar of the last line that is struck, by which the bars of a take are counted."""
        return int(self.bar.max(initial=1))

    @property
    def deviation(self) -> Floats:
        """From the line, ms; NaN where the hit belongs to none."""
        return np.where(self.lined, self.off, np.nan)

    def after(self, ms: Floats, time: Timeline) -> "Measured":
        """The same hits at other times, ms, against the same lines.

        Parameters
        ----------
        ms : float64 array, shape (hits,)
        time : Timeline
        """
        return replace(self, off=ms - time.ms(self.line))


def measure(ground: Ground) -> Measured:
    """Measure every hit against its line.

    Parameters
    ----------
    ground : Ground
    """
    strokes, time, tick, dials = ground.strokes, ground.time, ground.tick, ground.dials
    place = np.where(strokes.of_hit >= 0, strokes.spread(tick[strokes.reference], 0.0), tick)
    lines = ground.lines_at(place)
    line = lines.tick
    section = ground.layout.sections.of(line)
    seen = ground.seen(place)
    lined = belongs(seen, lines, time.tempo, dials.reach[section])
    lined &= ground.layout.explained(place)
    off = time.between(line, tick)
    fill = ground.fills.of(line)
    at = strokes.reference
    alone = nearest(line[at], np.abs(time.between(line[at], seen[at])), lined[at])
    window = dials.window[section]
    if np.isnan(window).any():
        window = np.where(np.isnan(window), noticed(line, time), window)
    return Measured(
        line=line,
        off=off,
        lined=lined,
        told=lined & (fill < 0) & strokes.spread(alone, True),
        admissible=Admissible.around(window),
        bar=time.bars_at(line).number,
        section=section,
        fill=fill,
    )


def nearest(line: Floats, distance: Floats, near: Bools) -> Bools:
    """Which strokes are the nearest of those on their line, of equals the earliest.

    Parameters
    ----------
    line, distance : float64 arrays, shape (s,)
        Ticks; ms.
    near : bool array, shape (s,)
        Which strokes belong to their line.
    """
    candidates = indices(near)
    # Distances that differ by floating-point noise only are equal.
    rounded = np.round(distance[candidates] / SLACK_MS)
    order = np.lexsort((rounded, line[candidates]))
    sorted_line = line[candidates][order]
    first = np.append(True, np.diff(sorted_line) > 0)[: len(order)]
    found = np.zeros(len(line), np.bool_)
    found[candidates[order[first]]] = True
    return found


@dataclass(frozen=True)
class Trend:
    """How a lean runs over time.

    Attributes
    ----------
    ms_per_bar : float
        Slope; minus is getting earlier.
    first_bar, last_bar : int
    first_ms, last_ms : float
        The lean at both ends, ms.
    """

    ms_per_bar: float
    first_bar: int
    last_bar: int
    first_ms: float
    last_ms: float


@dataclass(frozen=True)
class Lean:
    """How a group of hits stands to its lines.

    Attributes
    ----------
    hits : int
        How many are in the group.
    lined : int
        How many of them belong to a line; all that follows speaks of these.
    lean : float
        Median deviation, ms; minus is ahead, plus is behind. NaN without hits.
    spread : float
        Standard deviation, ms.
    robust : float
        1.4826 times the median absolute deviation from the lean, ms: the spread without outliers.
    near_line : float
        Share inside the window around the line, percent; a pass counts around the target.
    trend : Trend, optional
        None where there is no sure trend.
    """

    hits: int
    lined: int
    lean: float
    spread: float
    robust: float
    near_line: float
    trend: Trend | None


def sum_up(measured: Measured, which: Bools, *, trend: bool = True) -> Lean:
    """Sum up a group of hits.

    Parameters
    ----------
    measured : Measured
    which : bool array, shape (n,)
        The group.
    trend : bool
        Whether to look for one.
    """
    picked = which & measured.lined
    deviation = measured.off[picked]
    if not len(deviation):
        nan = float("nan")
        return Lean(int(which.sum()), 0, nan, nan, nan, nan, None)
    lean = median(deviation)
    near = measured.admissible.at(picked).contains(deviation)
    return Lean(
        hits=int(which.sum()),
        lined=len(deviation),
        lean=lean,
        spread=float(deviation.std()),
        robust=spread_of(deviation, lean),
        near_line=float(100 * near.mean()),
        trend=find_trend(measured.bar[picked], deviation) if trend else None,
    )


def find_trend(bar: Ints, deviation: Floats) -> Trend | None:
    """Find how a lean runs over the bars.

    It is the straight line (see `evenhand.robust.straight_line`) of the median deviation in each
    bar, so that single strokes off their line do not turn it.

    Parameters
    ----------
    bar : int64 array, shape (n,)
    deviation : float64 array, shape (n,)
        In ms.

    Returns
    -------
    Trend or None
        None where chance would do as well.
    """
    bars, group = numbered(bar)
    if len(bars) < _TREND_BARS:
        return None
    group, count = thinned(group, len(bars))
    place = medians(bar, group, count)
    line = straight_line(place, medians(deviation, group, count))
    if line is None or abs(line.slope) * (place[-1] - place[0]) < _TREND_MS:
        return None
    first, last = int(bars[0]), int(bars[-1])
    return Trend(line.slope, first, last, line.at(first), line.at(last))
