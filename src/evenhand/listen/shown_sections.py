"""Stretches of a take: its sections, the lean of each, and the pace from bar to bar."""

import math
from dataclasses import dataclass
from statistics import median

import numpy as np

from evenhand.columns import Floats
from evenhand.listen.pair import BeforeAfter
from evenhand.outcome import Pair, compare_leans

_MOST_SECTIONS = 500

#: What a take is called that is one section.
_UNDIVIDED = "whole take"

#: The pace is the median over the bar and this many on either side.
_BARS_AROUND = 2


@dataclass(frozen=True)
class ShownSection:
    """A named stretch of the take.

    Attributes
    ----------
    name : str
        From the file, so hostile until proved otherwise.
    first_bar, last_bar : int
    from_ms, to_ms : float
    lean_before, lean_after : float or None
        Median deviation of its anchor hits that belong to a line, ms, as in the assessment and
        the summary; None without any.
    """

    name: str
    first_bar: int
    last_bar: int
    from_ms: float
    to_ms: float
    lean_before: float | None
    lean_after: float | None


def read_sections(comparison: BeforeAfter, end_ms: float) -> list[ShownSection]:
    """The sections of the pass, as far as there is something to hear.

    More than 500 are not told apart here: the page would be nothing but their names.
    """
    time, found = comparison.result.ground.time, comparison.result.ground.sections
    begin = time.ms(np.maximum(found.begin, 0.0))
    begin[0] = 0.0
    heard = begin < end_ms
    heard[0] = True
    result = comparison.result
    leans = [lean for lean, _ in compare_leans(comparison.changes, result.ground, result.plan)]
    if found.undivided:
        return [_section(_UNDIVIDED, found.bars[0], (0.0, end_ms), leans[0])]
    if heard.sum() > _MOST_SECTIONS:
        nothing = Pair(math.nan, math.nan)
        return [_section(_UNDIVIDED, (1, found.bars[-1][1]), (0.0, end_ms), nothing)]
    stop = np.minimum(np.append(begin[1:], end_ms), end_ms)
    return [
        _section(
            found.labels[index],
            found.bars[index],
            (float(begin[index]), float(stop[index])),
            leans[index],
        )
        for index in np.flatnonzero(heard).tolist()
    ]


def _section(name: str, bars: tuple[int, int], ms: tuple[float, float], lean: Pair) -> ShownSection:
    before, after = (None if math.isnan(one) else one for one in (lean.before, lean.after))
    return ShownSection(name, *bars, *ms, before, after)


def _strokes(comparison: BeforeAfter) -> tuple[Floats, Floats, Floats]:
    """Line in ms, deviation before and after of each stroke that has a line."""
    result = comparison.result
    hit = result.strokes.reference[result.plan.claims]
    return (
        comparison.line_ms[hit],
        comparison.deviation_before[hit],
        comparison.deviation_after[hit],
    )


def read_pace(comparison: BeforeAfter) -> tuple[list[float], list[float], list[float]]:
    """How far ahead or behind the take is from bar to bar.

    Returns
    -------
    ms : list of float
        Where each bar with strokes begins.
    before, after : list of float
        Median deviation of the strokes in the bar and two on either side, ms.
    """
    take = comparison.result.before
    when, before, after = _strokes(comparison)
    if not len(when):
        return [], [], []
    order = np.argsort(when, kind="stable")
    when, before, after = when[order], before[order], after[order]
    bars = take.meter.bars_at(np.round(take.tempo.to_tick(when), 3))
    number, first = np.unique(bars.number, return_index=True)
    low = np.searchsorted(bars.number, number - _BARS_AROUND, side="left")
    high = np.searchsorted(bars.number, number + _BARS_AROUND, side="right")
    # Short lists: Python's own median is quicker than NumPy's.
    columns = [before.tolist(), after.tolist()]
    spans = list(zip(low.tolist(), high.tolist(), strict=True))
    medians = [[median(column[begin:end]) for begin, end in spans] for column in columns]
    return take.tempo.to_ms(bars.start[first]).tolist(), medians[0], medians[1]
