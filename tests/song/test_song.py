"""Songs: what is one, where takes begin in them, and takes that don't lie on them."""

import mido
import numpy as np
import pytest
from tests.build import KICK, drum_take, midi_bytes, track

from evenhand import MidiFileError, SettingError, Take
from evenhand.jobs.demo_take import BPM, demo_take
from evenhand.song import find_misfit
from evenhand.take import as_song, start_in


def _song(bpm: float, *more: tuple[int, mido.MetaMessage]) -> Take:
    first = (0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm)))
    return Take.from_bytes(midi_bytes(track([first, *more])), "kettle.mid")


def test_a_song_without_a_tempo_is_refused() -> None:
    bare = Take.from_bytes(midi_bytes(track([(0, mido.MetaMessage("marker", text="a"))])), "s.mid")
    with pytest.raises(MidiFileError, match=r"s\.mid: there is no tempo in it"):
        as_song(bare)


@pytest.mark.parametrize(
    ("at", "ms"), [("1:1", 0), ("3:1", 4800), ("3:2.5", 5700), ("2.5", 2500), ("-0.25", -250)]
)
def test_where_a_take_begins(at: str, ms: float) -> None:
    waltz = (0, mido.MetaMessage("time_signature", numerator=4, denominator=4))
    assert start_in(_song(100, waltz), at) == pytest.approx(ms)


@pytest.mark.parametrize("at", ["", "x", "1:9", "0:1", "nan", "inf", "1e99", "90000", "1:1:1"])
def test_no_such_place(at: str) -> None:
    with pytest.raises(SettingError, match="song-at"):
        start_in(_song(100), at)


def test_a_take_on_its_song_is_no_misfit() -> None:
    take = Take.from_bytes(demo_take())
    assert find_misfit(take, as_song(_song(BPM))) is None
    bar = 4 * 60 / BPM
    assert find_misfit(take, as_song(_song(BPM), f"{2 * bar:.4f}")) is None


@pytest.mark.parametrize("beats", [0.25, -0.3, 4.25])
def test_a_take_beside_its_song_is_told_with_the_offset(beats: float) -> None:
    take = Take.from_bytes(demo_take())
    misfit = find_misfit(take, as_song(_song(BPM), f"{beats * 60 / BPM:.4f}"))
    assert misfit is not None
    assert misfit.at_s is not None
    # What it says puts the beats on the song's beats, up to the lean of the playing.
    away = misfit.at_s * BPM / 60
    assert abs(away - round(away)) * 60 / BPM < 0.02
    assert find_misfit(take, as_song(_song(BPM), f"{misfit.at_s:.3f}")) is None
    assert "--song-at=" in misfit.text


@pytest.mark.parametrize("bpm", [104, 112, 120])
def test_a_take_of_another_tempo_is_told_with_the_tempo(bpm: float) -> None:
    misfit = find_misfit(Take.from_bytes(demo_take()), as_song(_song(bpm)))
    assert misfit is not None
    assert misfit.bpm == pytest.approx(BPM, rel=0.004)
    assert misfit.song_bpm == pytest.approx(bpm, rel=1e-4)
    assert "108" in misfit.text or "107.9" in misfit.text


def test_a_take_on_a_song_that_speeds_up_is_no_misfit() -> None:
    ramp = [
        (480 * 4 * bar, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(100 + bar / 2)))
        for bar in range(1, 60)
    ]
    song = as_song(_song(100, *ramp))
    demo = Take.from_bytes(demo_take())
    # The demo's playing, on the song's map.
    played = demo.hits()
    ms = song.take.tempo.to_ms(played.tick)
    notes = [
        (int(np.rint(at * 0.96)), int(note), int(loud))
        for at, note, loud in zip(ms, played.note, played.velocity, strict=True)
    ]
    take = drum_take(notes)
    assert find_misfit(take, song) is None
    told = find_misfit(take, as_song(_song(100)))
    assert told is not None
    assert told.bpm is not None


def test_a_take_that_tells_no_tempo_is_not_judged() -> None:
    assert find_misfit(drum_take([(0, KICK), (700, KICK)]), as_song(_song(100))) is None
