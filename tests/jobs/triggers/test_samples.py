"""Sample positions: round(seconds × rate) with exact fractions, by mido's reading of the file."""

from fractions import Fraction
from pathlib import Path

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand import SettingError, read_take
from evenhand.jobs.triggers.positions import RATES, check_rate, exact_seconds, sample_numbers
from evenhand.take.tempo import TempoMap

RATES_ASKED = (44_100, 48_000, 96_000)


def _by_mido(midi: mido.MidiFile) -> list[Fraction]:
    """The exact time of every drum hit, tick by tick from mido's merged messages."""
    now, tempo, times = 0, 500_000, []
    for message in mido.merge_tracks(midi.tracks):
        now += message.time * tempo
        if message.type == "set_tempo":
            tempo = message.tempo
        elif message.type == "note_on" and message.velocity and message.channel == 9:
            times.append(Fraction(now, midi.ticks_per_beat * 1_000_000))
    return times


def test_every_hit_of_real_takes(takes: list[Path]) -> None:
    longest = max(takes, key=lambda path: path.stat().st_size)
    for path in {*takes[::12], longest}:
        take = read_take(path)
        exact = _by_mido(take.to_mido())
        tick = np.sort(take.hits().tick)
        for rate in RATES_ASKED:
            # round() of a Fraction is exact, ties to even (Python's documentation of fractions).
            expected = [round(one * rate) for one in exact]
            assert sample_numbers(take.tempo, tick, rate).tolist() == expected


def _map(tempi: list[tuple[int, int]], division: int) -> TempoMap:
    tick, tempo = (np.array(column, np.int64) for column in zip(*tempi, strict=True))
    return TempoMap(tick, tempo, np.zeros(len(tick)), division)


def _plain(tempi: list[tuple[int, int]], division: int, tick: int) -> Fraction:
    """Seconds up to a tick, one stretch of one tempo after another."""
    total = Fraction(0)
    for place, (begin, tempo) in enumerate(tempi):
        end = tempi[place + 1][0] if place + 1 < len(tempi) else tick
        if tick > begin:
            total += (min(end, tick) - begin) * Fraction(tempo, division * 1_000_000)
    return total


@pytest.mark.parametrize("rate", RATES_ASKED)
def test_an_hour_in_with_a_tempo_that_never_rests(rate: int) -> None:
    # A new tempo every beat for an hour and more, at tempi that are no round numbers.
    tempi = [(480 * beat, 461_537 + 97 * (beat % 101)) for beat in range(9000)]
    ticks = np.arange(0, 480 * 9000, 7919)
    seconds = exact_seconds(_map(tempi, 480), ticks)
    assert seconds[-1] > 3600
    spots = [0, 1, 17, len(ticks) // 2, len(ticks) - 1]
    assert [seconds[one] for one in spots] == [_plain(tempi, 480, int(ticks[one])) for one in spots]
    expected = [round(one * rate) for one in seconds]
    assert sample_numbers(_map(tempi, 480), ticks, rate).tolist() == expected


def test_worked_numbers() -> None:
    # 120 bpm, 480 ticks per quarter: a tick is 1/960 s, or 50 samples at 48 kHz.
    tempo = _map([(0, 500_000)], 480)
    assert sample_numbers(tempo, np.array([0, 1, 960]), 48_000).tolist() == [0, 50, 48_000]
    # At 44.1 kHz it is 45.9375 samples.
    assert sample_numbers(tempo, np.array([1, 8]), 44_100).tolist() == [46, 368]  # 367.5: to even
    # 24 ticks are 1102.5 samples: the tie goes to the even one.
    assert sample_numbers(tempo, np.array([24]), 44_100).tolist() == [1102]


_TEMPI = st.lists(st.tuples(st.integers(1, 5000), st.integers(1, 0xFFFFFF)), min_size=1, max_size=6)


@given(_TEMPI, st.integers(1, 32767), st.integers(0, 1 << 40), st.sampled_from(RATES))
def test_any_tempo_map(steps: list[tuple[int, int]], division: int, tick: int, rate: int) -> None:
    tempi, now = [], 0
    for step, tempo in steps:
        tempi.append((now, tempo))
        now += step
    tempo_map = _map(tempi, division)
    (second,) = exact_seconds(tempo_map, np.array([tick]))
    assert second == _plain(tempi, division, tick)
    assert int(sample_numbers(tempo_map, np.array([tick]), rate)[0]) == round(second * rate)


@pytest.mark.parametrize("rate", [0, -48_000, 44_000, 47_999])
def test_unknown_rates_are_refused_by_name(rate: int) -> None:
    with pytest.raises(SettingError, match=f"rate: {rate} .* 48000"):
        check_rate(rate)
