"""From a take to what is written: timing, notes, lengths, chokes, tightening."""

import io
from pathlib import Path

import mido
import numpy as np
import pytest
from tests.build import CRASH, HAT, KICK, RIM, SNARE, drum_take, midi_bytes, track

from evenhand import Recipe, SettingError, Take, read_take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.jobs.triggers.clean import Cleaning
from evenhand.jobs.triggers.make_ready import Prepared, TriggerSettings, prepare, velocities_of
from evenhand.jobs.triggers.remap import Pedal, parse_pedal
from evenhand.jobs.triggers.target import Target, load_target
from evenhand.kit.maps import KIT_MAPS

KIT = KIT_MAPS["ekit"]
AS_PLAYED = Cleaning(doubles=False, crosstalk=False, lengths=False)


def _prepare(take: Take, **settings: object) -> Prepared:
    return prepare(take, Recipe(), TriggerSettings(**settings))


def _notes(data: bytes) -> list[tuple[int, int, int, int]]:
    """Begin, length, note and velocity of every note, read by mido."""
    notes, now = [], 0
    sounding: dict[int, list[int]] = {}
    for message in mido.merge_tracks(mido.MidiFile(file=io.BytesIO(data)).tracks):
        now += message.time
        if message.type == "note_on" and message.velocity:
            sounding.setdefault(message.note, []).append(len(notes))
            notes.append([now, -1, message.note, message.velocity])
        elif message.type in ("note_on", "note_off"):
            one = notes[sounding[message.note].pop(0)]
            one[1] = now - one[0]
    return [tuple(note) for note in notes]


def test_untouched_take_comes_back_as_it_was(takes: list[Path]) -> None:
    for path in takes[::20]:
        take = read_take(path)
        prepared = _prepare(take, cleaning=AS_PLAYED)
        hits = take.hits()
        order = np.argsort(hits.tick, kind="stable")
        expected = zip(
            *(column[order].tolist() for column in (hits.tick, hits.note, hits.velocity)),
            strict=True,
        )
        written = [(tick, note, loud) for tick, _, note, loud in _notes(prepared.midi())]
        assert sorted(written) == sorted(expected)
        again = Take.from_bytes(prepared.midi())
        assert again.division == take.division
        assert again.end == take.end
        assert np.array_equal(again.tempo.tick, take.tempo.tick)
        assert np.array_equal(again.tempo.tempo, take.tempo.tempo)
        assert np.array_equal(again.meter.beats, take.meter.beats)


def test_files_per_piece_hold_every_hit_once() -> None:
    prepared = _prepare(Take.from_bytes(demo_take()))
    parts = [note for piece in prepared.pieces for note in _notes(prepared.midi(piece))]
    assert sorted(parts) == sorted(_notes(prepared.midi()))
    for piece in prepared.pieces:
        notes = np.array([note for _, _, note, _ in _notes(prepared.midi(piece))])
        assert set(KIT.pieces(notes).tolist()) == {piece}


def test_every_note_ends_before_its_number_begins_again() -> None:
    take = drum_take([(0, SNARE), (20, SNARE), (480, SNARE), (960, KICK)])
    notes = _notes(_prepare(take).midi())
    assert [(tick, length) for tick, length, *_ in notes] == [
        (0, 20),
        (20, 10),
        (480, 30),
        (960, 30),
    ]


def test_a_note_ends_before_it_begins_again_at_the_same_tick() -> None:
    take = drum_take([(0, SNARE), (30, SNARE)])
    midi = mido.MidiFile(file=io.BytesIO(_prepare(take).midi()))
    kinds = [one.type for one in midi.tracks[1] if not one.is_meta]
    assert kinds == ["note_on", "note_off", "note_on", "note_off"]


def test_lengths_are_given_where_there_are_none() -> None:
    on = mido.Message("note_on", channel=9, note=KICK, velocity=90)
    off = mido.Message("note_off", channel=9, note=KICK)
    take = Take.from_bytes(midi_bytes(track([(0, on), (0, off), (480, on)])))
    assert [length for _, length, *_ in _notes(_prepare(take).midi())] == [96, 96]
    kept = _prepare(take, cleaning=Cleaning(lengths=False))
    # What is not mended still has to end somewhere: at the next tick, or with the take.
    assert [length for _, length, *_ in _notes(kept.midi())] == [1, 1]
    longer = _prepare(take, cleaning=Cleaning(length=250.0))
    assert [length for _, length, *_ in _notes(longer.midi())] == [240, 240]


def test_velocities_are_matched_then_shaped() -> None:
    take = drum_take([(480 * beat, KICK, 40 + beat) for beat in range(20)])
    model = drum_take([(480 * beat, KICK, 80 + beat) for beat in range(20)])
    prepared = _prepare(take, match=velocities_of(model, Recipe()))
    assert prepared.score.velocity.tolist() == list(range(80, 100))


def test_mapping_to_general_midi() -> None:
    take = drum_take([(0, KICK), (0, 22), (480, RIM), (960, 26), (1440, CRASH)])
    prepared = _prepare(take, to=load_target("gm", KIT))
    assert [note for _, _, note, _ in _notes(prepared.midi())] == [KICK, HAT, SNARE, 46, CRASH]
    ways = {way.note: (way.sound, way.to, way.hits) for way in prepared.ways}
    assert ways[22] == ("closed hat edge", 42, 1)
    assert ways[RIM] == ("snare rim", 38, 1)


def test_two_pieces_on_one_note_only_when_told() -> None:
    take = drum_take([(0, SNARE), (480, 37)])
    small = Target("small", {"snare": 38})
    with pytest.raises(SettingError, match=r"small: note 38 .* both side stick and snare.*--merge"):
        _prepare(take, to=small)
    merged = _prepare(take, to=small, merge=True)
    assert merged.score.note.tolist() == [38, 38]


def test_a_sound_without_a_note_is_refused_by_name() -> None:
    take = drum_take([(0, KICK), (1920, 56)])
    with pytest.raises(SettingError, match=r"no note for cowbell \(note 56, first at 2:1\)"):
        _prepare(take, to=Target("small", {"kick": 36}))


def test_an_unknown_note_keeps_its_number_unless_it_is_taken() -> None:
    take = drum_take([(0, KICK), (480, 31)])
    assert _prepare(take, to=Target("small", {"kick": 36})).score.note.tolist() == [36, 31]
    with pytest.raises(SettingError, match="both kick and other"):
        _prepare(take, to=Target("small", {"kick": 31}))


def _hats(values: list[int]) -> Take:
    events = []
    for beat, value in enumerate(values):
        pedal = mido.Message("control_change", channel=9, control=4, value=value)
        hit = mido.Message("note_on", channel=9, note=42, velocity=80)
        end = mido.Message("note_off", channel=9, note=42)
        events += [(480 * beat, pedal), (480 * beat + 10, hit), (480 * beat + 40, end)]
    return Take.from_bytes(midi_bytes(track(events)))


HATS = Target("hats", {"hat closed": 1, "hat half": 2, "hat open": 3})


@pytest.mark.parametrize(
    ("text", "notes"),
    [
        (None, [1, 1, 1, 1, 1, 1]),
        # Of 90: 0.15 of the way is 76.5, 0.6 of the way is 36.
        ("auto", [1, 1, 2, 2, 3, 3]),
        ("90-0", [1, 1, 2, 2, 3, 3]),
        ("0-90", [3, 3, 3, 2, 2, 1]),
    ],
)
def test_the_pedal_chooses_the_hat(text: str | None, notes: list[int]) -> None:
    take = _hats([90, 77, 76, 36, 35, 0])
    assert _prepare(take, to=HATS, hat_pedal=text).score.note.tolist() == notes


@pytest.mark.parametrize("text", ["", "x", "90", "90-90", "128-0", "90-0-1", "-"])
def test_pedal_settings_that_make_no_sense(text: str) -> None:
    with pytest.raises(SettingError, match="hat-pedal"):
        parse_pedal(text, np.array([3]))


def test_a_take_without_a_pedal() -> None:
    with pytest.raises(SettingError, match="no pedal positions"):
        parse_pedal("auto", np.array([-1, -1]))
    assert parse_pedal("auto", np.array([-1, 96])) == Pedal(96, 0)


def _choked() -> Take:
    on = mido.Message("note_on", channel=9, note=57, velocity=100)
    off = mido.Message("note_off", channel=9, note=57)
    grip = mido.Message("polytouch", channel=9, note=57, value=127)
    free = mido.Message("polytouch", channel=9, note=57, value=0)
    kick = mido.Message("note_on", channel=9, note=36, velocity=100)
    done = mido.Message("note_off", channel=9, note=36)
    hits = [(0, on), (50, off), (480, kick), (530, done), (960, on), (1010, off)]
    return Take.from_bytes(midi_bytes(track([*hits, (1400, grip), (1450, free)])))


def _pressure(data: bytes) -> list[tuple[int, int]]:
    messages = mido.MidiFile(file=io.BytesIO(data)).tracks[1]
    return [(one.note, one.value) for one in messages if one.type == "polytouch"]


def test_chokes_stay_as_key_pressure_on_the_new_note() -> None:
    prepared = _prepare(_choked(), to=Target("mine", {"crash": 77, "kick": 36}))
    assert _pressure(prepared.midi()) == [(77, 127), (77, 0)]
    assert _pressure(prepared.midi("crash")) == [(77, 127), (77, 0)]
    assert _pressure(prepared.midi("kick")) == []


def test_chokes_become_note_offs() -> None:
    prepared = _prepare(_choked(), chokes="note-off")
    data = prepared.midi()
    assert _pressure(data) == []
    assert [(tick, length) for tick, length, note, _ in _notes(data) if note == 57] == [
        (0, 50),
        (960, 440),
    ]


def test_controls_go_with_the_hat() -> None:
    prepared = _prepare(Take.from_bytes(demo_take()))

    def controls(piece: str | None) -> int:
        midi = mido.MidiFile(file=io.BytesIO(prepared.midi(piece)))
        return sum(one.type == "control_change" for one in midi.tracks[1])

    assert controls("hat") == controls(None) > 300
    assert controls("snare") == 0


def test_markers_go_along() -> None:
    prepared = _prepare(Take.from_bytes(demo_take()))

    def markers(data: bytes) -> list[str]:
        guide = mido.MidiFile(file=io.BytesIO(data)).tracks[0]
        return [one.text for one in guide if one.type == "marker"]

    assert markers(prepared.midi()) == markers(demo_take())
    assert len(markers(prepared.midi("snare"))) == 8


@pytest.mark.parametrize("recipe", [Recipe(), Recipe(strength=100, latency=7, resolution=960)])
def test_tightening_is_that_of_the_tightener(recipe: Recipe) -> None:
    take = Take.from_bytes(demo_take(), "demo")
    prepared = prepare(take, recipe, TriggerSettings(cleaning=AS_PLAYED, tighten=True))
    expected = tighten(take, recipe)
    tick = expected.changes.tick_after[prepared.sheet.number - 1]
    assert prepared.sheet.hits.tick.tolist() == tick.tolist()
    written = Take.from_bytes(prepared.midi())
    assert written.division == expected.take.division
    assert sorted(written.hits().tick.tolist()) == sorted(expected.take.hits().tick.tolist())
    # Ends are carried along; only where notes overlap does one end sooner.
    ends, wanted = _notes(prepared.midi()), _notes(expected.take.to_bytes())
    same = sum(one == other for one, other in zip(sorted(ends), sorted(wanted), strict=True))
    assert same > 0.97 * len(wanted)
    # The pedal is carried along too.
    ours, theirs = (
        np.sort(np.concatenate([track.tick[track.status == 0xB9] for track in one.smf.tracks]))
        for one in (written, expected.take)
    )
    assert ours.tolist() == theirs.tolist()


def test_what_is_removed_does_not_mislead_the_tightener() -> None:
    clean = [(480 * beat + 12 * (beat % 3), KICK, 110) for beat in range(32)]
    echoes = [(tick + 19, KICK, 40) for tick, *_ in clean[::4]]
    prepared = _prepare(drum_take([*clean, *echoes]), tighten=True)
    expected = tighten(drum_take(clean)).changes.tick_after
    assert prepared.sheet.hits.tick.tolist() == expected.tolist()


@pytest.mark.parametrize("settings", [{"rate": 44_000}, {"chokes": "mute"}])
def test_bad_settings_are_refused_by_name(settings: dict[str, object]) -> None:
    with pytest.raises(SettingError, match=next(iter(settings))):
        TriggerSettings(**settings)
