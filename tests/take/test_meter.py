"""Bars, beats and positions."""

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.build import KICK, drum_take, midi_bytes, track

from evenhand import Take
from evenhand.errors import MidiFileError, SettingError
from evenhand.take.meter import Position, parse_position


def _meters(*changes: tuple[int, int, int], division: int = 480) -> Take:
    metas = [
        (tick, mido.MetaMessage("time_signature", numerator=beats, denominator=unit))
        for tick, beats, unit in changes
    ]
    return Take.from_bytes(midi_bytes(track(metas), division=division))


@pytest.mark.parametrize(
    ("tick", "place"),
    [(0, "1:1"), (480, "1:2"), (720, "1:2.5"), (1919, "1:4.998"), (1920, "2:1"), (160, "1:1.333")],
)
def test_places_in_four_four(tick: int, place: str) -> None:
    assert str(drum_take([(0, KICK)]).meter.position(tick)) == place


def test_beats_are_the_lower_number() -> None:
    meter = drum_take([(0, KICK)], meter=(6, 8)).meter
    assert str(meter.position(240)) == "1:2"
    assert str(meter.position(1440)) == "2:1"


def test_every_change_begins_a_bar() -> None:
    # Two bars of 4/4, cut off by 3/4 after one and a half bars: bar 3 begins there.
    meter = _meters((0, 4, 4), (2880, 3, 4)).meter
    assert [str(meter.position(tick)) for tick in (2879, 2880, 4320)] == ["2:2.998", "3:1", "4:1"]
    bars = meter.bars_at(np.array([2000.0]))
    assert (bars.start[0], bars.stop[0]) == (1920, 2880)
    assert meter.to_tick(Position(4, 1)) == 4320
    assert meter.to_tick(Position(3, 2.5)) == 2880 + 720


def test_four_four_until_the_first_change() -> None:
    meter = _meters((3840, 5, 8)).meter
    assert str(meter.position(1920)) == "2:1"
    assert str(meter.position(3840 + 1200)) == "4:1"


def test_beat_that_would_be_written_as_the_next_bar_is_the_next_bar() -> None:
    meter = drum_take([(0, KICK)], division=32767).meter
    assert str(meter.position(4 * 32767 - 1)) == "2:1"


def test_places_and_ticks_are_inverse() -> None:
    meter = _meters((0, 4, 4), (2880, 3, 4), (2880 + 1440 * 3, 7, 8)).meter
    ticks = np.arange(0, 20000, 60)
    bars, beats = meter.place(ticks)
    back = [meter.to_tick(Position(int(b), float(t))) for b, t in zip(bars, beats, strict=True)]
    assert np.allclose(back, ticks, atol=0.5)


def test_stretch_takes_in_what_is_written_the_same() -> None:
    meter = drum_take([(0, KICK)]).meter
    first, last = meter.stretch(Position(1, 2.667), Position(1, 2.667))
    assert first <= 480 + 320 <= last
    assert last - first < 2


@pytest.mark.parametrize("text", ["17:4.5", " 1:1 ", "999999999:1"])
def test_positions(text: str) -> None:
    assert str(parse_position(text)) == text.strip()


@pytest.mark.parametrize(
    "text", ["", "17", "17:", ":4", "0:1", "1:0.5", "1:1:1", "-1:2", "1:nan", "1:inf", "a:b", "1:٣"]
)
def test_bad_positions(text: str) -> None:
    with pytest.raises(SettingError, match="not a position"):
        parse_position(text)


def test_beat_that_is_not_there() -> None:
    with pytest.raises(SettingError, match="bar 2 has 4 beats"):
        drum_take([(0, KICK)]).meter.to_tick(Position(2, 5))


@pytest.mark.parametrize("payload", [[0, 2, 24, 8], [4, 7, 24, 8], [4, 255, 24, 8], [4]])
def test_meters_that_make_no_sense(payload: list[int]) -> None:
    meta = bytes([0, 0xFF, 0x58, len(payload), *payload])
    body = meta + b"\x00\xff\x2f\x00"
    data = b"MThd" + bytes.fromhex("0000000600000001 01e0") + b"MTrk" + len(body).to_bytes(4, "big")
    with pytest.raises(MidiFileError, match="meter change at tick 0"):
        _ = Take.from_bytes(data + body).meter


_CHANGES = st.lists(
    st.tuples(st.integers(1, 9000), st.integers(1, 15), st.sampled_from([1, 2, 4, 8, 16, 32, 64])),
    max_size=5,
    unique_by=lambda change: change[0],
)


@given(_CHANGES, st.sampled_from([24, 96, 480, 960]), st.lists(st.integers(-4000, 30000)))
def test_every_place_lies_in_one_bar(
    changes: list[tuple[int, int, int]], division: int, ticks: list[int]
) -> None:
    meter = _meters(*sorted(changes), division=division).meter
    ticks = sorted(ticks)
    bars = meter.bars_at(np.array(ticks))
    assert ((bars.start <= ticks) & (ticks < bars.stop)).all()
    steps, starts = np.diff(bars.number), np.diff(bars.start)
    assert (steps >= 0).all()
    assert ((steps > 0) == (starts > 0)).all()
    # The bar behind begins where this one stops, and has the next number.
    behind = meter.bars_at(bars.stop)
    assert np.allclose(behind.start, bars.stop)
    assert (behind.number == bars.number + 1).all()
    assert {tick for tick, _, _ in changes} <= {*meter.tick.tolist()}
    assert meter.bars_at(meter.tick).start.tolist() == meter.tick.tolist()


@given(_CHANGES, st.sampled_from([24, 96, 480, 960]), st.lists(st.integers(0, 30000), min_size=1))
def test_what_is_written_is_found_again(
    changes: list[tuple[int, int, int]], division: int, ticks: list[int]
) -> None:
    meter = _meters(*sorted(changes), division=division).meter
    for tick in ticks:
        position = meter.position(tick)
        assert parse_position(str(position)) == position
        back = meter.to_tick(position)
        # Three places of a beat: half of the last is lost at the most.
        assert abs(back - tick) <= 0.00051 * float(meter.bars_at(tick).beat_ticks)
        first, last = meter.stretch(position, position)
        assert first <= tick <= last
