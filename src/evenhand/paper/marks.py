"""Places as markers: sections, fills, pushes and what to listen to, for any program's ruler."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from evenhand.columns import Floats
from evenhand.paper.csv_table import csv_bytes
from evenhand.sections import Sections
from evenhand.take import Take

if TYPE_CHECKING:
    from evenhand.outcome import Flag
    from evenhand.tightener import Result

#: The kinds of mark, in the order in which they stand at one place.
KINDS = (SECTION, PUSH, FILL, LISTEN) = ("section", "push", "fill", "listen")

#: Samples per second that places are counted in, if nothing else is said. Common practice.
RATE = 48_000


@dataclass(frozen=True, order=True)
class Mark:
    """One place.

    Attributes
    ----------
    tick : int
        In the tightened take.
    rank : int
        Of the kind, in `KINDS`.
    text : str
        What it is called in a ruler.
    more : str
        A sentence about it, or nothing.
    """

    tick: int
    rank: int
    text: str
    more: str = ""

    @property
    def kind(self) -> str:
        """One of `KINDS`."""
        return KINDS[self.rank]


def list_marks(
    sections: Sections,
    fills: Sequence[float],
    pushes: Sequence[tuple[float, str]],
    flags: Sequence[Flag],
) -> tuple[Mark, ...]:
    """Put all places of a take in order.

    Parameters
    ----------
    sections : Sections
        Their marks stand at the bar lines.
    fills : sequence of float
        Where fills begin, in ticks.
    pushes : sequence of (float, str)
        Where pushes begin, in ticks, and what to call each.
    flags : sequence of Flag
    """
    marks = {
        Mark(_whole(begin), KINDS.index(SECTION), name)
        for begin, name in zip(sections.begin.tolist(), sections.labels, strict=True)
    }
    marks |= {Mark(_whole(tick), KINDS.index(FILL), "fill") for tick in fills}
    marks |= {Mark(_whole(tick), KINDS.index(PUSH), text) for tick, text in pushes}
    marks |= {
        Mark(_whole(flag.tick), KINDS.index(LISTEN), f"listen: {flag.kind}", flag.text)
        for flag in flags
    }
    return tuple(sorted(marks))


def marks_of(result: Result) -> tuple[Mark, ...]:
    """All places of a pass; a push is a span of strokes that were off, and moved, as one."""
    ground, changes, plan = result.ground, result.changes, result.plan
    reference = result.strokes.reference
    pushes = []
    for number in range(1, int(plan.span.max(initial=0)) + 1):
        hits = reference[plan.span == number]
        moved = float(np.median(changes.shift_ms[hits])) + ground.latency
        way = "ahead" if moved > 0 else "behind"
        pushes.append((float(changes.tick_after[hits].min()), f"push {abs(moved):.0f} ms {way}"))
    fills = ground.fills.begin.tolist()
    return list_marks(ground.layout.sections, fills, pushes, result.flags)


def _whole(tick: float) -> int:
    return max(round(tick), 0)


def markers_mid(take: Take, marks: Sequence[Mark]) -> bytes:
    """A Standard MIDI File without notes: the take's tempo and meter, and a marker for each place.

    Parameters
    ----------
    take : Take
        The tightened take; the file has its division.
    marks : sequence of Mark
        In time order.
    """
    import mido

    events: list[tuple[int, mido.MetaMessage]] = [
        (int(tick), mido.MetaMessage("set_tempo", tempo=int(tempo)))
        for tick, tempo in zip(take.tempo.tick, take.tempo.tempo, strict=True)
    ]
    meter = take.meter
    events += [
        (int(tick), mido.MetaMessage("time_signature", numerator=int(beats), denominator=int(unit)))
        for tick, beats, unit in zip(meter.tick, meter.beats, meter.unit, strict=True)
    ]
    events += [(mark.tick, mido.MetaMessage("marker", text=mark.text)) for mark in marks]
    events.sort(key=lambda event: event[0])
    end = max([take.end, *(tick for tick, _ in events)])
    events.append((end, mido.MetaMessage("end_of_track")))
    midi = mido.MidiFile(type=0, ticks_per_beat=take.division, charset="utf-8")
    ticks = [tick for tick, _ in events]
    midi.tracks.append(
        mido.MidiTrack(
            message.copy(time=tick - before)
            for (tick, message), before in zip(events, [0, *ticks[:-1]], strict=True)
        )
    )
    buffer = io.BytesIO()
    midi.save(file=buffer)
    return buffer.getvalue()


def markers_csv(
    take: Take, marks: Sequence[Mark], rate: int = RATE, seconds: Floats | None = None
) -> bytes:
    """The same places as CSV: `kind,bar,beat,seconds,sample,text,more`.

    Parameters
    ----------
    take : Take
    marks : sequence of Mark
    rate : int
        Samples per second; `sample` counts from 0.
    seconds : float64 array, shape (marks,), optional
        Where each is in the audio; by the take's own time if not given.
    """
    tick = np.array([mark.tick for mark in marks], np.int64)
    seconds = take.tempo.to_ms(tick) / 1000 if seconds is None else seconds
    bar, beat = take.meter.place(tick)
    rows = []
    for mark, at, here, there in zip(marks, seconds, bar, beat, strict=True):
        time = [int(here), f"{there:.3f}", f"{at:.6f}", round(at * rate)]
        rows.append([mark.kind, *time, mark.text, mark.more])
    return csv_bytes(("kind", "bar", "beat", "seconds", "sample", "text", "more"), rows)
