"""Real takes: saved unchanged, against mido; a sample read back by pretty_midi when tightened."""

import io
from pathlib import Path

import mido
import pretty_midi

from evenhand import read_take, tighten
from evenhand.take.track import META, Track


def test_saved_unchanged_is_byte_identical(take_path: Path, tmp_path: Path) -> None:
    data = take_path.read_bytes()
    take = read_take(take_path)
    assert take.to_bytes() == data
    take.save(tmp_path / "copy.mid")
    assert (tmp_path / "copy.mid").read_bytes() == data
    # Not even when every event is told to go where it is.
    assert take.retimed([track.tick for track in take.smf.tracks]).to_bytes() == data
    assert take_path.read_bytes() == data


def _columns(track: Track) -> list[tuple[int, int, int, int]]:
    columns = (track.tick, track.status, track.data1, track.data2)
    return list(zip(*(column.tolist() for column in columns), strict=True))


def test_decodes_to_the_same_messages_as_mido(sampled_path: Path) -> None:
    take = read_take(sampled_path)
    midi = mido.MidiFile(sampled_path)
    assert (take.smf.format, take.division) == (midi.type, midi.ticks_per_beat)
    assert len(take.smf.tracks) == len(midi.tracks)
    for ours, theirs in zip(take.smf.tracks, midi.tracks, strict=True):
        expected, metas, now = [], [], 0
        for message in theirs:
            now += message.time
            content = message.bytes()
            if message.is_meta:
                expected.append((now, META, content[1], 0))
                metas.append((content[1], now, bytes(content[3:])))
            else:
                status, data1, data2 = (*content, 0)[:3]
                expected.append((now, status, data1, data2))
        assert _columns(ours) == expected
        found = {kind: ours.metas(kind) for kind, _, _ in metas}
        for kind, tick, payload in metas:
            # Lengths in the takes fit one byte, so the payload begins behind it.
            assert found[kind].pop(0) == (tick, payload)


def _notes(
    midi: pretty_midi.PrettyMIDI,
) -> list[tuple[int, bool, dict[int, list[pretty_midi.Note]]]]:
    """The notes of each pitch in order: hits of different limbs may change places in a stroke."""
    instruments = []
    for one in midi.instruments:
        voices: dict[int, list[pretty_midi.Note]] = {}
        for note in sorted(one.notes, key=lambda note: note.start):
            voices.setdefault(note.pitch, []).append(note)
        instruments.append((one.program, one.is_drum, voices))
    return instruments


def _velocities(midi: pretty_midi.PrettyMIDI) -> list[tuple[int, bool, dict[int, list[int]]]]:
    return [
        (program, drum, {pitch: [note.velocity for note in voices[pitch]] for pitch in voices})
        for program, drum, voices in _notes(midi)
    ]


def test_tightened_reads_back_with_pretty_midi(sampled_path: Path) -> None:
    result = tighten(read_take(sampled_path))
    before = pretty_midi.PrettyMIDI(str(sampled_path))
    after = pretty_midi.PrettyMIDI(io.BytesIO(result.take.to_bytes()))
    assert _velocities(after) == _velocities(before)
    # The same notes also go where the change log says. (Where one pitch is struck again at the
    # very tick of its release, pretty_midi makes one note of two, before as after.)
    changes = result.changes
    columns = (changes.hits.note, changes.hits.ms, changes.ms_after)
    goes = {
        (note, before.time_to_tick(ms / 1000)): after
        for note, ms, after in zip(*columns, strict=True)
    }
    for (_, _, was), (_, _, now) in zip(_notes(before), _notes(after), strict=True):
        for pitch, notes in was.items():
            for one, other in zip(notes, now[pitch], strict=True):
                told = goes[pitch, before.time_to_tick(one.start)]
                assert abs(1000 * other.start - told) < 1e-4
