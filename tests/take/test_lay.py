"""A take on its song's map: times stay to half a tick, by three readers; bars are the song's."""

import io

import mido
import numpy as np
import pretty_midi
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.build import HAT, KICK, SNARE, drum_bytes, drum_take, midi_bytes, track
from tests.lengths import examples
from tests.raw import chunk

from evenhand import MidiFileError, Take
from evenhand.take import lay
from evenhand.take.track import META

_METERS = [(4, 4), (7, 8), (3, 4), (5, 4), (6, 8)]


def _song(random: np.random.Generator, division: int, minutes: float = 40.0) -> Take:
    """Ramps in 200 steps between tempi, five meters, a marker at each."""
    events: list[tuple[int, mido.MetaMessage]] = []
    tick, ms, bpm = 0, 0.0, 100.0
    part = 0
    while ms < 60_000 * minutes:
        beats, unit = _METERS[part % 5]
        text = f"part {part}"
        events += [
            (tick, mido.MetaMessage("time_signature", numerator=beats, denominator=unit)),
            (tick, mido.MetaMessage("marker", text=text)),
        ]
        target = float(random.uniform(60, 200))
        bar = beats * 4 * division // unit
        length = bar * int(random.integers(40, 80))
        ramp = length // 2
        for step in range(200):
            tempo = mido.bpm2tempo(bpm + (target - bpm) * (step + 1) / 200)
            events.append((tick + ramp * step // 200, mido.MetaMessage("set_tempo", tempo=tempo)))
            ms += ramp / 200 / division * tempo / 1000
        ms += (length - ramp) / division * tempo / 1000
        tick, bpm, part = tick + length, target, part + 1
    return Take.from_bytes(midi_bytes(track(events), division=division), "song")


def _take(random: np.random.Generator, division: int, minutes: float = 40.0) -> Take:
    """Hits all over some minutes, under a tempo map of its own."""
    end = int(minutes * 120 * division)
    ticks = np.sort(random.integers(0, end, int(100 * minutes)))
    guide = [
        (int(at), mido.MetaMessage("set_tempo", tempo=int(random.integers(450_000, 550_000))))
        for at in np.sort(random.integers(0, end, 20))
    ]
    drums = [
        (int(tick), mido.Message("note_on", channel=9, note=KICK, velocity=1 + index % 127))
        for index, tick in enumerate(ticks)
    ]
    return Take.from_bytes(midi_bytes(track(guide), track(drums), division=division), "take")


def _half_a_tick(take: Take) -> np.ndarray:
    """In ms, at each hit; one on a change of tempo may have come from either side."""
    tick = take.hits().tick
    longer = np.maximum(take.tempo.ms_per_tick_at(tick), take.tempo.ms_per_tick_at(tick - 0.5))
    return longer / 2 + 1e-6


def _mido_seconds(data: bytes) -> list[float]:
    """When the hits sound by mido, which walks through the merged tracks."""
    now, found = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(data)):
        now += message.time
        if message.type == "note_on" and message.velocity:
            found.append(now)
    return found


def _pretty_seconds(data: bytes, ticks: np.ndarray) -> list[float]:
    """The same by pretty_midi's map of ticks to times."""
    midi = pretty_midi.PrettyMIDI(io.BytesIO(data))
    return [midi.tick_to_time(int(tick)) for tick in ticks]


@pytest.mark.parametrize(("of_song", "of_take"), [(480, 480), (960, 480), (96, 480), (384, 480)])
def test_long_songs_by_three_readers(of_song: int, of_take: int) -> None:
    random = np.random.default_rng(of_song + of_take)
    song, take = _song(random, of_song), _take(random, of_take)
    laid = lay(take, song)
    data = laid.to_bytes()
    again = Take.from_bytes(data)

    assert again.division % of_song == 0
    assert again.division >= max(of_song, of_take)
    assert again.division < of_take + of_song
    before = np.sort(take.hits().ms) / 1000
    hits = again.hits()
    half = _half_a_tick(again) / 1000
    for seconds in (hits.ms / 1000, _mido_seconds(data), _pretty_seconds(data, hits.tick)):
        assert len(seconds) == len(before)
        assert (np.abs(np.array(seconds) - before) <= half).all()
    # Bars and tempi lie where the song has them.
    for bar in range(1, int(song.meter.bar[-1]), 7):
        at = song.meter.to_tick(song.meter.position(0)._replace(bar=bar))
        there = again.meter.to_tick(again.meter.position(0)._replace(bar=bar))
        assert float(again.tempo.to_ms(there)) == pytest.approx(float(song.tempo.to_ms(at)))
    assert again.tempo.tempo.tolist() == song.tempo.tempo.tolist()
    marks = [text for part in again.smf.tracks for _, text in part.metas(6)]
    assert marks == [text for part in song.smf.tracks for _, text in part.metas(6)]


def test_everything_else_keeps_its_bytes() -> None:
    take = drum_take([(0, HAT, 70), (480, KICK, 101), (961, SNARE, 99)], bpm=97)
    laid = lay(take, _song(np.random.default_rng(1), 480, 1.0))
    kept = [
        [
            (one.type, one.hex() if not one.is_meta else one.type)
            for one in mido_track
            if one.type not in ("set_tempo", "time_signature", "marker", "end_of_track")
        ]
        for mido_track in laid.to_mido().tracks
    ]
    was = [
        [
            (one.type, one.hex() if not one.is_meta else one.type)
            for one in mido_track
            if one.type not in ("set_tempo", "time_signature", "marker", "end_of_track")
        ]
        for mido_track in take.to_mido().tracks
    ]
    assert kept == was


@settings(max_examples=examples(60), deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.sampled_from([24, 96, 120, 384, 480, 960, 15360]),
    st.sampled_from([96, 192, 480, 1000]),
    st.floats(0, 30_000),
)
def test_any_song_any_division_any_start(seed: int, fine: int, own: int, start: float) -> None:
    random = np.random.default_rng(seed)
    song, take = _song(random, fine, 0.5), _take(random, own, 0.5)
    laid = Take.from_bytes(lay(take, song, start).to_bytes())
    apart = np.abs(laid.hits().ms - (take.hits().ms + start))
    assert (apart <= _half_a_tick(laid)).all()


def test_a_take_that_starts_in_the_song() -> None:
    song = _song(np.random.default_rng(2), 480, 3.0)
    take = drum_take([(0, KICK), (480, SNARE)])
    at = float(song.tempo.to_ms(song.meter.to_tick(song.meter.position(0)._replace(bar=17))))
    laid = lay(take, song, at)
    assert str(laid.meter.position(int(laid.hits().tick[0]))) == "17:1"
    assert np.diff(laid.hits().ms).tolist() == pytest.approx([500], abs=0.6)


def test_a_take_that_starts_before_the_song() -> None:
    song = _song(np.random.default_rng(2), 480, 1.0)
    take = drum_take([(960, KICK), (1440, SNARE)])
    laid = lay(take, song, -1000.0)
    assert laid.hits().ms.tolist() == pytest.approx([0, 500], abs=0.6)
    with pytest.raises(MidiFileError, match=r"0\.001 s before its song song; .*--song-at"):
        lay(take, song, -1001.0)


def test_a_song_without_markers_leaves_those_of_the_take() -> None:
    bare = Take.from_bytes(drum_bytes([(0, KICK)], bpm=60), "song")
    events = [(0, mido.MetaMessage("marker", text="verse"))]
    drums = [(480, mido.Message("note_on", channel=9, note=KICK, velocity=90))]
    take = Take.from_bytes(midi_bytes(track(events), track(drums)), "take")
    laid = lay(take, bare)
    assert [text for part in laid.smf.tracks for _, text in part.metas(6)] == [b"verse"]
    assert laid.tempo.bpm.tolist() == [60]


def test_a_file_of_one_track() -> None:
    events = [
        (0, mido.MetaMessage("set_tempo", tempo=400_000)),
        (480, mido.Message("note_on", channel=9, note=KICK, velocity=90)),
        (960, mido.MetaMessage("set_tempo", tempo=600_000)),
        (960, mido.Message("note_on", channel=9, note=SNARE, velocity=90)),
    ]
    take = Take.from_bytes(midi_bytes(track(events), kind=0), "take")
    laid = Take.from_bytes(lay(take, _song(np.random.default_rng(3), 96, 1.0)).to_bytes())
    assert laid.hits().ms.tolist() == pytest.approx([400, 800], abs=0.7)
    (one,) = laid.smf.tracks
    tempi = (one.status == META) & (one.data1 == 0x51)
    assert tempi.sum() == len(laid.tempo.tempo)


def test_events_of_one_tick_keep_their_order() -> None:
    notes = [(480, KICK), (480, SNARE), (480, HAT), (481, KICK)]
    laid = lay(drum_take(notes), Take.from_bytes(drum_bytes([(0, KICK)], bpm=40, division=24), "s"))
    assert laid.hits().note.tolist() == [KICK, SNARE, HAT, KICK]


def test_a_division_that_no_file_can_have_is_that_of_the_song() -> None:
    take = drum_take([(0, KICK), (32767, SNARE)], division=32767)
    song = Take.from_bytes(drum_bytes([(0, KICK)], bpm=100, division=480), "song")
    laid = lay(take, song)
    assert laid.division == 480
    assert laid.hits().ms.tolist() == pytest.approx([0, 500], abs=0.7)


def test_chunks_that_nobody_knows_stay() -> None:
    head, *tracks = drum_take([(0, KICK), (480, SNARE)]).to_bytes().split(b"MTrk")
    strange = chunk(b"XTRA", b"what is this")
    take = Take.from_bytes(head + strange + b"".join(b"MTrk" + one for one in tracks))
    song = Take.from_bytes(drum_bytes([(0, KICK)], bpm=100), "song")
    assert strange in lay(take, song).to_bytes()
