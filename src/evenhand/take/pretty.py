"""A take for the library pretty_midi, with a word where it can't hold every note."""

import io
import warnings
from collections import Counter
from typing import TYPE_CHECKING

from evenhand.errors import LossWarning, MidiFileError
from evenhand.take.channels import DRUM_CHANNEL

if TYPE_CHECKING:
    import pretty_midi

    from evenhand.take.take import Take

#: A note as both sides know it: channel 10 or another, number, velocity, tick.
_Note = tuple[bool, int, int, int]


def to_pretty_midi(take: "Take") -> "pretty_midi.PrettyMIDI":
    """Convert a take (see `Take.to_pretty_midi`)."""
    import pretty_midi

    try:
        midi = pretty_midi.PrettyMIDI(io.BytesIO(take.to_bytes()))
    except ValueError as error:
        raise MidiFileError(f"{take.name}: pretty_midi does not take it: {error}") from error
    lost = _struck(take) - _held(midi)
    if lost:
        first = min(lost, key=lambda note: note[-1])
        warnings.warn(
            f"{take.name}: pretty_midi holds no notes without a length, so {lost.total()} of "
            f"{_struck(take).total()} are lost, the first of them note {first[1]} at "
            f"{take.meter.position(first[-1])}; to_mido() keeps all",
            LossWarning,
            stacklevel=3,
        )
    return midi


def _struck(take: "Take") -> Counter[_Note]:
    notes: Counter[_Note] = Counter()
    for track in take.smf.tracks:
        which = track.note_ons()
        drums = (track.status[which] & 0x0F) == DRUM_CHANNEL
        columns = (drums, track.data1[which], track.data2[which], track.tick[which])
        notes.update(zip(*(column.tolist() for column in columns), strict=True))
    return notes


def _held(midi: "pretty_midi.PrettyMIDI") -> Counter[_Note]:
    return Counter(
        (one.is_drum, note.pitch, note.velocity, midi.time_to_tick(note.start))
        for one in midi.instruments
        for note in one.notes
    )
