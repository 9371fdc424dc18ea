"""Stretches of a take: its sections, the lean of each, and the pace from bar to bar."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats
from evenhand.listen.pair import Comparison
from evenhand.take import Position, Take

#: Type of the meta event that names a place in the music (RP-001).
_MARKER = 0x06
_MOST_SECTIONS, _LONGEST_NAME = 500, 60

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
    """The sections of a take: as the recipe names them, from marker to marker, or as found.

    What comes before the first is `start`; a take without any is one section. More than 500 name
    no sections.
    """
    take = comparison.result.before
    found = comparison.result.ground.layout.sections
    begins = {} if comparison.result.recipe.section else _markers(take)
    if not begins and len(found) > 1:
        bars = found.bar.tolist()
        begins = {
            round(take.meter.to_tick(Position(bar, 1))): label[:_LONGEST_NAME]
            for bar, label in zip(bars, found.labels, strict=True)
        }
    if not begins or len(begins) > _MOST_SECTIONS:
        begins = {0: "whole take"}
    if min(begins) > 0:
        begins = {0: "start", **begins}
    ticks = sorted(tick for tick in begins if take.tempo.to_ms(tick) < end_ms or not tick)
    ms = [*take.tempo.to_ms(ticks).tolist(), end_ms]
    when, before, after = _strokes(comparison)
    sections = []
    for tick, start, stop in zip(ticks, ms, ms[1:], strict=False):
        # A stroke that comes a little early still belongs to what it begins.
        mine = (when >= start) & (when < stop)
        last = max(float(tick), float(take.tempo.to_tick(stop)) - 1)
        sections.append(
            Section(
                name=begins[tick],
                first_bar=take.meter.position(tick).bar,
                last_bar=int(take.meter.bars_at(last).number),
                from_ms=start,
                to_ms=stop,
                lean_before=float(np.median(before[mine])) if mine.any() else None,
                lean_after=float(np.median(after[mine])) if mine.any() else None,
            )
        )
    return sections


def _markers(take: Take) -> dict[int, str]:
    found: dict[int, str] = {}
    for track in take.smf.tracks:
        for tick, payload in track.metas(_MARKER):
            name = _text(payload).strip()
            if name:
                found[tick] = name[:_LONGEST_NAME]
    return dict(sorted(found.items()))


def _text(payload: bytes) -> str:
    try:
        return payload.decode("utf-8")
    except UnicodeDecodeError:
        return payload.decode("latin-1")


def _strokes(comparison: Comparison) -> tuple[Floats, Floats, Floats]:
    """Line in ms, deviation before and after of each stroke that has a line."""
    result = comparison.result
    hit = result.strokes.reference[result.plan.claims]
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
