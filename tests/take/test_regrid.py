"""A new tempo map: every event keeps its time and its bytes, bars lie where they should."""

import io
from pathlib import Path

import mido
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.build import HAT, KICK, SNARE, drum_take
from tests.lengths import examples
from tests.random_takes import RandomTake, random_takes
from tests.raw import chunk

from evenhand import MidiFileError, Recipe, Take, fit, read_take
from evenhand.take.regrid import BarsAndBeats, regrid
from evenhand.take.track import META, METER, TEMPO


def _steady(first: float, beat: float, count: int, beats: int = 4) -> BarsAndBeats:
    return BarsAndBeats(first + beat * np.arange(count + 1), beats, 4)


def _check_kept(before: Take, after: Take) -> None:
    again = Take.from_bytes(after.to_bytes())
    assert again.division % before.division == 0
    for old, new in zip(before.smf.tracks, again.smf.tracks, strict=True):
        old_kept = ~((old.status == META) & np.isin(old.data1, (TEMPO, METER)))
        new_kept = ~((new.status == META) & np.isin(new.data1, (TEMPO, METER)))
        # The end of a track gives way to what is added behind it.
        old_kept[-1] = new_kept[-1] = False
        for column in ("status", "data1", "data2"):
            one, other = getattr(old, column), getattr(new, column)
            assert one[old_kept].tolist() == other[new_kept].tolist()
        apart = before.tempo.to_ms(old.tick[old_kept]) - again.tempo.to_ms(new.tick[new_kept])
        # Half a tick, of those on both sides: on a beat where the tempo changes they differ.
        at = new.tick[new_kept]
        here, before_it = again.tempo.ms_per_tick_at(at), again.tempo.ms_per_tick_at(at - 1)
        tick = np.maximum(here, before_it)
        assert (np.abs(apart) <= 0.5001 * tick).all()


def _messages(take: Take) -> list[list[mido.Message]]:
    midi = mido.MidiFile(file=io.BytesIO(take.to_bytes()))
    skipped = ("set_tempo", "time_signature")
    return [[one.copy(time=0) for one in track if one.type not in skipped] for track in midi.tracks]


@pytest.mark.parametrize("first", [-40.0, 0.0, 15.0, 100.0, 700.0, 1990.0])
def test_bars_begin_where_they_should(first: float) -> None:
    take = drum_take([(0, HAT), (480, KICK), (960, SNARE), (7000, SNARE)])
    after = regrid(take, _steady(first, 510.0, 16))
    _check_kept(take, after)
    bars = after.meter.bars_at(after.tempo.to_tick(np.array([first + 510 * 4])) + 1e-3)
    start = after.tempo.to_ms(bars.start)
    assert float(start[0]) == pytest.approx(first + 510 * 4, abs=0.01)


def test_a_tempo_that_wanders() -> None:
    take = drum_take([(tick, KICK) for tick in range(0, 9600, 333)])
    lines = 300 + np.cumsum(np.concatenate([[0], 500 + 60 * np.sin(np.arange(40) / 5)]))
    after = regrid(take, BarsAndBeats(lines, 3, 4))
    _check_kept(take, after)
    bars = after.meter.bars_at(np.rint(after.tempo.to_tick(lines[3:30:3])) + 0.5)
    assert after.tempo.to_ms(bars.start).tolist() == pytest.approx(lines[3:30:3].tolist(), abs=0.05)
    assert after.meter.beats.tolist()[-1] == 3


def test_ticks_get_no_coarser() -> None:
    take = drum_take([(0, KICK), (100, SNARE)], bpm=240)
    after = regrid(take, _steady(0.0, 1000.0, 8))
    assert after.division == 4 * take.division
    assert float(after.tempo.ms_per_tick(0)) <= float(take.tempo.ms_per_tick(0)) + 1e-9


def test_real_takes_keep_every_event(takes: list[Path]) -> None:
    for path in takes[::18]:
        take = read_take(path)
        # With a hint, so that fills of a bar or two, which can't tell a tempo, are fitted as well.
        after = fit(take, Recipe(near=float(np.median(take.tempo.bpm)))).take
        _check_kept(take, after)
        assert _messages(take) == _messages(after)


@settings(max_examples=examples(60))
@given(
    random_takes(),
    st.floats(-100, 3000),
    st.lists(st.floats(180, 2000), min_size=4, max_size=30),
    st.sampled_from([(4, 4), (3, 4), (6, 8), (5, 8)]),
)
def test_any_beats_under_any_take(
    random: RandomTake, first: float, gaps: list[float], meter: tuple[int, int]
) -> None:
    take = Take.from_bytes(random.to_bytes())
    beat_ms = first + np.concatenate([[0.0], np.cumsum(gaps)])
    after = regrid(take, BarsAndBeats(beat_ms, *meter))
    _check_kept(take, after)
    # Each beat but the first (which may begin with the file) lies where it is wanted; whole
    # microseconds a quarter leave less than a twentieth of a millisecond.
    lines = beat_ms[1:]
    bars, beats = after.meter.place(after.tempo.to_tick(lines))
    assert (beats == np.rint(beats)).all() or np.abs(beats - np.rint(beats)).max() <= 0.002
    number = (bars * meter[0] + np.rint(beats)).astype(int)
    assert np.diff(number).tolist() == [1] * (len(lines) - 1)


def test_what_a_file_cannot_hold_is_refused() -> None:
    take = drum_take([(0, KICK), (480, SNARE)])
    for beat in (17_000.0, 0.0004):
        with pytest.raises(MidiFileError, match="a beat would be too long or too short"):
            regrid(take, BarsAndBeats(beat * np.arange(6.0), 4, 4))


def test_chunks_that_nobody_knows_stay() -> None:
    head, *tracks = drum_take([(0, KICK), (480, SNARE)]).to_bytes().split(b"MTrk")
    strange = chunk(b"XTRA", b"what is this")
    take = Take.from_bytes(head + strange + b"".join(b"MTrk" + one for one in tracks))
    after = regrid(take, _steady(0.0, 600.0, 4))
    assert strange in after.to_bytes()
    _check_kept(take, after)
