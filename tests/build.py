"""Small takes for tests, written with mido so that they do not depend on the code under test."""

import copy
import io
from collections.abc import Iterable, Sequence
from typing import Any, TypeVar

import mido

from evenhand import Recipe, Take

KICK, STICK, SNARE, RIM, HAT, CRASH, TOM = 36, 37, 38, 40, 42, 49, 48

#: Ticks per ms at the defaults below: 120 bpm, 480 ticks per quarter.
TICKS_PER_MS = 0.96

#: The dials with which a pass does the plain semantics of the design and nothing more.
PLAIN: dict[str, Any] = {
    "grid": "1/16",
    "sections": "none",
    "reach": 40,
    "lean": 0,
    "habit": 0,
    "most": "off",
    "carry": "together",
    "fills": "tight",
    "ornaments": "off",
    "plan": "hits",
    "tempo_as_filed": "on",
}

Message = TypeVar("Message", mido.Message, mido.MetaMessage)

Note = tuple[int, int] | tuple[int, int, int]


def track(events: Iterable[tuple[int, mido.Message | mido.MetaMessage]]) -> mido.MidiTrack:
    """Make a track of (tick, message) pairs, in time order."""
    messages, now = mido.MidiTrack(), 0
    for tick, message in sorted(events, key=lambda event: event[0]):
        messages.append(timed(message, tick - now))
        now = tick
    return messages


def timed(message: Message, time: int) -> Message:
    """The same message so many ticks after the one before; mido's own copy checks all again."""
    other = copy.copy(message)
    other.time = time
    return other


def midi_bytes(*tracks: mido.MidiTrack, kind: int = 1, division: int = 480) -> bytes:
    """The bytes of a file."""
    midi = mido.MidiFile(type=kind, ticks_per_beat=division)
    midi.tracks.extend(tracks)
    buffer = io.BytesIO()
    midi.save(file=buffer)
    return buffer.getvalue()


def drum_bytes(
    notes: Sequence[Note],
    *,
    bpm: float = 120,
    meter: tuple[int, int] = (4, 4),
    division: int = 480,
    channel: int = 9,
) -> bytes:
    """A take of (tick, note) or (tick, note, velocity); velocity 100 if not given."""
    guide = [
        (0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))),
        (0, mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1])),
    ]
    drums = []
    for tick, note, *velocity in notes:
        on = mido.Message(
            "note_on", channel=channel, note=note, velocity=velocity[0] if velocity else 100
        )
        drums += [(tick, on), (tick + 30, mido.Message("note_off", channel=channel, note=note))]
    return midi_bytes(track(guide), track(drums), division=division)


def drum_take(notes: Sequence[Note], **form: Any) -> Take:
    """The same as a take."""
    return Take.from_bytes(drum_bytes(notes, **form), "test take")


def plain_recipe(**settings: Any) -> Recipe:
    """A recipe that does the plain semantics of the design, with some settings of its own."""
    return Recipe(**{**PLAIN, **settings})
