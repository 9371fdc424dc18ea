"""A new tempo map under the same performance: times stay, bars and beats move."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.errors import MidiFileError
from evenhand.take.smf import Smf
from evenhand.take.take import Take
from evenhand.take.tempo import TempoMap
from evenhand.take.track import META, METER, TEMPO, Track

_LARGEST_DIVISION = 0x7FFF
_LARGEST_TEMPO = 0xFFFFFF

#: Beats whose lengths differ by less than this share are even.
_SAME = 1e-7

#: A bar line this near behind the start of the file is put on the start, ms.
_AT_START_MS = 20.0


@dataclass(frozen=True, eq=False)
class BarsAndBeats:
    """Where bars and beats are to lie.

    Attributes
    ----------
    beat_ms : float64 array, shape (n,)
        Increasing; the first begins a bar. What lies before it becomes a bar of its own.
    beats, unit : int
        The meter.
    """

    beat_ms: Floats
    beats: int
    unit: int


def regrid(take: Take, score: BarsAndBeats) -> Take:
    """Lay bars and beats under a take without moving anything in time.

    Every event keeps its time to half a tick; ticks get no coarser than they were. Tempo events
    are replaced, meter events too; everything else keeps its bytes.

    Parameters
    ----------
    take : Take
    score : BarsAndBeats

    Raises
    ------
    MidiFileError
        If the file can't hold the new times.
    """
    places, ms, meters = _knots(score)
    quarter = np.diff(ms)[-1] / np.diff(places)[-1]
    body = np.diff(ms) / np.diff(places)
    slowest = float(max(body[1:].max() if len(body) > 1 else quarter, quarter))
    division = _division(take, slowest)
    tempo = _tempo_map(places, ms, division)
    events = tempo_events(tempo)
    events += [(round(place * division), meter_event(*meter)) for place, meter in meters]
    events.sort(key=lambda event: event[0])
    return replace(take, smf=_rewritten(take, division, tempo, events))


def _knots(score: BarsAndBeats) -> tuple[Floats, Floats, list[tuple[float, tuple[int, int]]]]:
    """Places in quarter notes with their ms, and the meters."""
    beat = 4.0 / score.unit
    lines = score.beat_ms
    meter = (score.beats, score.unit)
    lead, length = float(lines[0]), float(lines[1] - lines[0])
    if lead <= _AT_START_MS:
        # The first beat is a little shorter or longer, so that its bar begins with the file.
        places = np.asarray(np.arange(len(lines)) * beat)
        return places, np.concatenate([[0.0], lines[1:]]), [(0.0, meter)]
    # A bar of whole beats before the first one; its first beat takes up what is left over.
    count = max(int(np.floor(lead / length + 0.5)), 1)
    before = np.asarray(lead - length * np.arange(count - 1, 0, -1))
    ms: Floats = np.concatenate([[0.0], before, lines])
    places = np.asarray(np.arange(len(ms)) * beat)
    pickup = (count, score.unit)
    same = count == score.beats
    meters = [(0.0, meter)] if same else [(0.0, pickup), (float(places[count]), meter)]
    return places, ms, meters


def _division(take: Take, quarter_ms: float) -> int:
    """The smallest multiple of the file's division with ticks no longer than they were."""
    before = float(take.tempo.ms_per_tick_at(0))
    first, last = take.tempo.tick, np.append(take.tempo.tick[1:], max(take.end, 1))
    in_use = np.flatnonzero(last > first)
    if len(in_use):
        before = float(take.tempo.ms_per_tick(in_use).min())
    factor = max(int(np.ceil(quarter_ms / (before * take.division) - 1e-6)), 1)
    return take.division * min(factor, max(_LARGEST_DIVISION // take.division, 1))


def _tempo_map(places: Floats, ms: Floats, division: int) -> TempoMap:
    """One tempo for each run of even beats, in whole microseconds per quarter.

    What rounding leaves over is made up for by the next tempo.
    """
    ticks = np.rint(places * division).astype(np.int64)
    slope = np.diff(ms) / np.diff(ticks)
    turns = np.flatnonzero(np.abs(np.diff(slope)) > _SAME * slope[1:]) + 1
    corner = np.concatenate([[0], turns, [len(ticks) - 1]])
    tempi: list[int] = []
    starts = [0.0]
    for one, other in pairwise(corner.tolist()):
        quarters = float(ticks[other] - ticks[one]) / division
        wanted = round((float(ms[other]) - starts[-1]) * 1000 / quarters)
        if not 1 <= wanted <= _LARGEST_TEMPO:
            raise MidiFileError("a beat would be too long or too short for a MIDI file")
        tempi.append(wanted)
        starts.append(starts[-1] + wanted * quarters / 1000)
    return TempoMap(ticks[corner[:-1]], np.array(tempi, np.int64), np.array(starts[:-1]), division)


def tempo_events(tempo: TempoMap) -> list[tuple[int, bytes]]:
    """The tick of each tempo, and the bytes of its event without its delta time."""
    return [
        (int(tick), bytes((META, TEMPO, 3)) + int(one).to_bytes(3, "big"))
        for tick, one in zip(tempo.tick, tempo.tempo, strict=True)
    ]


def meter_event(beats: int, unit: int) -> bytes:
    """The bytes of a meter event, without its delta time."""
    return bytes((META, METER, 4, beats, unit.bit_length() - 1, max(96 // unit, 1), 8))


def _rewritten(
    take: Take, division: int, tempo: TempoMap, events: Sequence[tuple[int, bytes]]
) -> Smf:
    smf = take.smf
    parts: list[Track | bytes] = []
    extra = events
    for part in smf.parts:
        if not isinstance(part, Track):
            parts.append(part)
            continue
        tick = np.maximum(np.rint(tempo.to_tick(take.tempo.to_ms(part.tick))), 0)
        keep = ~((part.status == META) & np.isin(part.data1, (TEMPO, METER)))
        parts.append(edited(part, tick.astype(np.int64), keep, extra))
        extra = ()
    head = smf.head[:12] + division.to_bytes(2, "big") + smf.head[14:]
    return replace(smf, head=head, division=division, parts=tuple(parts))


def edited(track: Track, tick: Ints, keep: Bools, extra: Sequence[tuple[int, bytes]]) -> Track:
    """The track with events at other times, some dropped, and others added, status spelled out.

    Of events at one tick the added ones come first; `extra` holds times and bytes without delta
    time.
    """
    added = b"".join(b"\0" + event for _, event in extra)
    size = np.array([1 + len(event) for _, event in extra], np.int64)
    start = track.start[-1] + np.concatenate([np.zeros(1, np.int64), np.cumsum(size)])
    blank = np.zeros(len(extra), np.int64)
    joined = Track(
        track.data[: track.start[-1]] + added + track.data[track.start[-1] :],
        np.concatenate([track.tick, blank]),
        np.concatenate([track.status, np.array([event[0] for _, event in extra], np.uint8)]),
        np.concatenate([track.data1, np.array([event[1] for _, event in extra], np.uint8)]),
        np.concatenate([track.data2, np.array([_second(event) for _, event in extra], np.uint8)]),
        np.concatenate([track.start[:-1], start]),
        np.concatenate([track.body, start[:-1] + 1]),
    )
    ticks = np.concatenate([tick, np.array([at for at, _ in extra], np.int64)])
    if track.ends_with_end():
        ticks[len(tick) - 1] = ticks.max()
    events = np.flatnonzero(np.concatenate([keep, blank == 0]))
    late = events < len(tick)
    return joined.rebuilt(ticks, events[np.lexsort((events, late, ticks[events]))])


def _second(event: bytes) -> int:
    """The second data byte of a channel event; 0 where there is none."""
    return event[2] if event[0] < 0xF0 and len(event) > 2 else 0
