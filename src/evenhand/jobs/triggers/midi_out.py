"""New MIDI files: tempo, meter and markers in one track, the hits in another."""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from evenhand.columns import Bools, Ints
from evenhand.errors import MidiFileError
from evenhand.jobs.triggers.sheet import NOTE_OFF, NOTE_ON, PRESSURE, Sheet
from evenhand.take import MARKER, Take, vlq

if TYPE_CHECKING:
    import mido

_KINDS = {
    0xA0: ("polytouch", "note", "value"),
    0xB0: ("control_change", "control", "value"),
    0xC0: ("program_change", "program", ""),
    0xD0: ("aftertouch", "value", ""),
}


@dataclass(frozen=True, eq=False)
class PlainScore:
    """Everything that is to sound, n hits and the controls of their sheet.

    Attributes
    ----------
    sheet : Sheet
    note, velocity, length : int64 arrays, shape (n,)
        As they are to be written; length in ticks, at least 1.
    pressure_note : int64 array, shape (128,)
        What becomes of the note of a key pressure.
    pressure : bool
        Whether key pressure is written.
    """

    sheet: Sheet
    note: Ints
    velocity: Ints
    length: Ints
    pressure_note: Ints
    pressure: bool = True


@dataclass(frozen=True, eq=False)
class Events:
    """The channel's events in the order in which they are written.

    Attributes
    ----------
    tick, status, data1, data2 : int64 arrays
    owner : int64 array
        Index of the hit, or of the control.
    """

    tick: Ints
    status: Ints
    data1: Ints
    data2: Ints
    owner: Ints


def list_events(
    score: PlainScore, hits: Bools | None = None, controls: Bools | None = None
) -> Events:
    """Put hits and controls in order: at one tick note-offs come first and note-ons last.

    A note ends at the latest where its number begins again.

    Parameters
    ----------
    score : PlainScore
    hits : bool array, optional
        Which hits; all if not given.
    controls : bool array, optional
        Which controls; all if not given.
    """
    sheet, other = score.sheet, score.sheet.controls
    hit = np.flatnonzero(np.ones(len(sheet), np.bool_) if hits is None else hits)
    wanted = np.ones(len(other.tick), np.bool_) if controls is None else controls
    if not score.pressure:
        wanted = wanted & (other.status != PRESSURE)
    control = np.flatnonzero(wanted)

    begin, note = sheet.hits.tick[hit], score.note[hit]
    end = np.minimum(begin + score.length[hit], _next_begin(begin, note))
    data1 = np.where(other.status == PRESSURE, score.pressure_note[other.data1], other.data1)[
        control
    ]
    tick = np.concatenate([end, other.tick[control], begin])
    off, on = np.full(len(hit), NOTE_OFF), np.full(len(hit), NOTE_ON)
    status = np.concatenate([off, other.status[control], on])
    rank = np.repeat([0, 1, 2], [len(hit), len(control), len(hit)])
    order = np.lexsort((rank, tick))
    return Events(
        tick[order],
        status[order],
        np.concatenate([note, data1, note])[order],
        np.concatenate([0 * note, other.data2[control], score.velocity[hit]])[order],
        np.concatenate([hit, control, hit])[order],
    )


def _next_begin(begin: Ints, note: Ints) -> Ints:
    """Where the same note begins again, later."""
    following = np.full(len(begin), np.iinfo(np.int64).max)
    for number in np.unique(note).tolist():
        mine = np.flatnonzero(note == number)
        ticks = np.unique(begin[mine])
        here = np.searchsorted(ticks, begin[mine], side="right")
        following[mine] = np.append(ticks, np.iinfo(np.int64).max)[here]
    return following


def midi_file(take: Take, events: Events, channel: int, name: str) -> bytes:
    """Write a type 1 file.

    Parameters
    ----------
    take : Take
        Where division, tempo, meter and markers are from.
    events : Events
    channel : int
        0 to 15.
    name : str
        Name of the track.

    Raises
    ------
    MidiFileError
        If a pause is longer than such a file can hold.
    """
    import mido

    midi = mido.MidiFile(type=1, ticks_per_beat=take.division)
    midi.tracks.append(_track(_guide(take), 0))
    named = mido.MetaMessage("track_name", name=name)
    midi.tracks.append(_track([(0, named), *_messages(events, channel)], take.end))
    buffer = io.BytesIO()
    midi.save(file=buffer)
    return buffer.getvalue()


_Timed = tuple[int, "mido.Message | mido.MetaMessage"]


def _guide(take: Take) -> list[_Timed]:
    import mido

    timed: list[_Timed] = []
    meter, tempo = take.meter, take.tempo
    for tick, beats, unit in zip(
        meter.tick.tolist(), meter.beats.tolist(), meter.unit.tolist(), strict=True
    ):
        sign = mido.MetaMessage("time_signature", numerator=beats, denominator=unit)
        timed.append((tick, sign))
    for tick, speed in zip(tempo.tick.tolist(), tempo.tempo.tolist(), strict=True):
        timed.append((tick, mido.MetaMessage("set_tempo", tempo=speed)))
    for track in take.smf.tracks:
        for tick, text in track.metas(MARKER):
            # Bytes as they are: latin-1 is what mido writes them with.
            timed.append((tick, mido.MetaMessage("marker", text=text.decode("latin-1"))))
    return sorted(timed, key=lambda one: one[0])


def _messages(events: Events, channel: int) -> Iterator[_Timed]:
    import mido

    columns = (events.tick, events.status, events.data1, events.data2)
    for tick, status, one, two in zip(*(column.tolist() for column in columns), strict=True):
        if status in (NOTE_ON, NOTE_OFF):
            kind = "note_on" if status == NOTE_ON else "note_off"
            yield tick, mido.Message(kind, channel=channel, note=one, velocity=two)
        elif status == 0xE0:
            bend = (two << 7 | one) - 8192
            yield tick, mido.Message("pitchwheel", channel=channel, pitch=bend)
        else:
            kind, first, second = _KINDS[status]
            values = {first: one, second: two} if second else {first: one}
            yield tick, mido.Message(kind, channel=channel, **values)


def _track(timed: list[_Timed], end: int) -> "mido.MidiTrack":
    import mido

    track, now = mido.MidiTrack(), 0
    for tick, message in timed:
        message.time = tick - now
        if message.time > vlq.LARGEST:
            raise MidiFileError("a pause in the take is longer than a MIDI file can hold")
        track.append(message)
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=min(max(end - now, 0), vlq.LARGEST)))
    return track
