"""Stretches of a take: its sections, the lean of each, and the pace from bar to bar."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats
from evenhand.listen.pair import Comparison

_MOST_SECTIONS = 500

#: What a take is called that is one section.
_UNDIVIDED = "whole take"

#: The pace is the median over the bar and this many on either side.
_BARS_AROUND = 2


@dataclass(frozen=True)
class Section:
    """A named stretch of the take.

    Attributes
    ----------
    name : str
        From the file, so hostile until proved otherwise.
    first_bar, last_bar : int
    from_ms, to_ms : float
    lean_before, lean_after : float or None
        Median deviation of its strokes, ms; None without strokes on lines.
    """

    name: str
    first_bar: int
    last_bar: int
    from_ms: float
    to_ms: float
    lean_before: float | None
    lean_after: float | None


def read_sections(comparison: Comparison, end_ms: float) -> list[Section]:
    """The sections of the pass, as far as there is something to hear.

    More than 500 are not told apart here: the page would be nothing but their names.
    """
    time, found = comparison.result.ground.time, comparison.result.ground.sections
    begin = time.ms(np.maximum(found.begin, 0.0))
    begin[0] = 0.0
    heard = begin < end_ms
    heard[0] = True
    if found.undivided or heard.sum() > _MOST_SECTIONS:
        last = found.bars[-1][1]
        return [Section(_UNDIVIDED, 1, last, 0.0, end_ms, *_leans(comparison))]
    section, stop = comparison.result.plan.section, [*begin[1:].tolist(), end_ms]
    return [
        Section(
            found.labels[index],
            *found.bars[index],
            float(begin[index]),
            min(stop[index], end_ms),
            *_leans(comparison, section == index),
        )
        for index in np.flatnonzero(heard).tolist()
    ]


def _leans(comparison: Comparison, which: Bools | None = None) -> tuple[float | None, float | None]:
    """Median deviation of the strokes of a section before and after, ms."""
    _, before, after = _strokes(comparison, which)
    if not len(before):
        return None, None
    return float(np.median(before)), float(np.median(after))


def _strokes(comparison: Comparison, which: Bools | None = None) -> tuple[Floats, Floats, Floats]:
    """Line in ms, deviation before and after of each stroke (of some) that has a line."""
    result = comparison.result
    told = result.plan.claims if which is None else result.plan.claims & which
    hit = result.strokes.reference[told]
    return (
        comparison.line_ms[hit],
        comparison.deviation_before[hit],
        comparison.deviation_after[hit],
    )


def read_pace(comparison: Comparison) -> tuple[list[float], list[float], list[float]]:
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
    spans = list(zip(low.tolist(), high.tolist(), strict=True))
    return (
        take.tempo.to_ms(bars.start[first]).tolist(),
        [float(np.median(before[begin:end])) for begin, end in spans],
        [float(np.median(after[begin:end])) for begin, end in spans],
    )


def read_windows(comparison: Comparison) -> list[tuple[float, float, float]]:
    """The window as runs of equal width: from ms, to ms, width in ms on either side."""
    result = comparison.result
    width = result.plan.admissible.half[result.plan.claims]
    when = comparison.line_ms[result.strokes.reference[result.plan.claims]]
    if not len(when):
        return []
    begins = np.flatnonzero(np.append(True, np.abs(np.diff(width)) > 1e-6))
    ends = np.append(begins[1:] - 1, len(when) - 1)
    return [
        (float(when[begin]), float(when[end]), float(width[begin]))
        for begin, end in zip(begins, ends, strict=True)
    ]
