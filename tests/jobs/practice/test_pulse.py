"""The pulse by worked numbers. At 120 bpm and 480 ticks a quarter, 24 ticks are 25 ms."""

import math

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.build import HAT, KICK, SNARE, Note, drum_take, midi_bytes, track

from evenhand import Recipe, Take
from evenhand.assessor import assess
from evenhand.jobs.practice.beats import STRAY_BEATS, Pulse, find_pulse, find_steadiness

RECIPE = Recipe(grid="1/16", sections="none", ghost_below=1)


def _pulse(notes: list[Note], **form: object) -> Pulse:
    found = assess(drum_take(notes, **form), RECIPE)
    return find_pulse(found.ground, found.measured)


def _made(off: np.ndarray, gap: float = 500.0) -> Pulse:
    beat = np.arange(len(off))
    return Pulse(beat, beat * gap + off, np.asarray(off, np.float64))


def test_beats_are_the_middle_of_what_is_struck_on_them() -> None:
    # Beat 1: kick 25 ms late, hat on it. Beat 2: nothing. Beat 3: a snare 25 ms early, and
    # sixteenths beside it that don't count.
    notes = [(24, KICK), (0, HAT), (960 - 24, SNARE), (960 + 120, HAT), (960 + 240, HAT)]
    pulse = _pulse(notes)
    assert pulse.beat.tolist() == [0, 2]
    assert pulse.off == pytest.approx([12.5, -25])
    assert pulse.ms == pytest.approx([12.5, 975])


def test_beats_go_on_through_a_new_meter() -> None:
    # Two bars of 3/4, then bars of 6/8, whose beat is the eighth.
    meters = [
        (0, mido.MetaMessage("time_signature", numerator=3, denominator=4)),
        (6 * 480, mido.MetaMessage("time_signature", numerator=6, denominator=8)),
    ]
    ticks = [0, 480, 1440, 2880, 2880 + 240, 2880 + 6 * 240]
    hits = [(tick, mido.Message("note_on", channel=9, note=KICK, velocity=90)) for tick in ticks]
    take = Take.from_bytes(midi_bytes(track(meters), track(hits)))
    found = assess(take, RECIPE)
    pulse = find_pulse(found.ground, found.measured)
    assert pulse.beat.tolist() == [0, 1, 3, 6, 7, 12]


def test_drift_against_the_click() -> None:
    # 48 beats: the first third 5 ms early, the last 7 ms late.
    off = np.repeat([-5.0, 0.0, 7.0], 16)
    held = find_steadiness(_made(off), click=True)
    assert held.drift_ms == pytest.approx(12)
    assert math.isnan(held.drift_percent)


def test_drift_of_a_tempo() -> None:
    # 16 beats at 120 bpm, 16 at 123, 16 at 126: 5 % faster.
    gaps = np.repeat([60_000 / 120, 60_000 / 123, 60_000 / 126], 16)
    ms = np.concatenate([[0.0], np.cumsum(gaps)[:-1]])
    pulse = Pulse(np.arange(48), ms, np.zeros(48))
    held = find_steadiness(pulse, click=False)
    assert held.drift_percent == pytest.approx(5)
    assert math.isnan(held.drift_ms)
    assert math.isnan(held.wander_off)


def test_stray_by_hand() -> None:
    # Beats lie 3 ms early and late in turns. The mean step of the 48 steps is 0, so their profile
    # is 6, 0, 6, 0 ... or -6 ...: 3 ms around its middle. A straight line through 16 of these,
    # x from -7.5 to 7.5, has the sum of x·y = 3·(-8) = -24 (the pairs differ by 1), the sum of
    # x² = 340, so it takes 24²/340 = 1.694 of the sum of squares 144: the rest is the root of
    # 142.306 / 16.
    off = np.tile([-3.0, 3.0], 25)[:49]
    held = find_steadiness(_made(off), click=True)
    assert STRAY_BEATS == 16
    assert held.stray_ms == pytest.approx(math.sqrt(142.306 / 16), abs=1e-4)


def test_missed_beats_are_laid_between_their_neighbours() -> None:
    dice = np.random.default_rng(4)
    whole = _made(np.cumsum(dice.normal(size=120)))
    few = np.delete(np.arange(120), [10, 40, 41, 42])
    gaps = Pulse(whole.beat[few], whole.ms[few], whole.off[few])
    laid = whole.off.copy()
    laid[10] = (laid[9] + laid[11]) / 2
    laid[40:43] = np.interp([40, 41, 42], [39, 43], [laid[39], laid[43]])
    assert find_steadiness(gaps, True).beats == 120
    assert find_steadiness(gaps, True).wander == pytest.approx(
        find_steadiness(_made(laid), True).wander
    )


def test_a_long_gap_breaks_the_pulse() -> None:
    beat = np.concatenate([np.arange(40), np.arange(44, 124)])
    dice = np.random.default_rng(4)
    off = dice.normal(size=120)
    held = find_steadiness(Pulse(beat, beat * 500 + off, off), True)
    assert held.beats == 80
    alone = _made(off[40:])
    assert held.wander == pytest.approx(find_steadiness(alone, True).wander)
    assert held.stray_ms == pytest.approx(find_steadiness(alone, True).stray_ms)


@pytest.mark.parametrize("count", [0, 1, 31])
def test_too_few_beats_tell_nothing(count: int) -> None:
    held = find_steadiness(_made(np.arange(count) % 3), click=True)
    assert held.beats == count
    figures = (held.stray_ms, held.wander, held.wander_off, held.drift_ms, held.drift_percent)
    assert all(math.isnan(figure) for figure in figures)


@given(st.lists(st.floats(-40, 40), min_size=65, max_size=100), st.floats(-30, 30))
def test_a_steady_lean_is_no_unsteadiness(off: list[float], lean: float) -> None:
    plain = find_steadiness(_made(np.array(off)), click=True)
    late = find_steadiness(_made(np.array(off) + lean), click=True)
    assert late.stray_ms == pytest.approx(plain.stray_ms, abs=1e-6)
    assert late.drift_ms == pytest.approx(plain.drift_ms, abs=1e-6)


@given(st.lists(st.floats(-40, 40), min_size=65, max_size=100), st.floats(300, 900))
def test_without_a_click_the_tempo_itself_does_not_matter(off: list[float], gap: float) -> None:
    plain = find_steadiness(_made(np.array(off)), click=False)
    other = find_steadiness(_made(np.array(off), gap), click=False)
    assert other.stray_ms == pytest.approx(plain.stray_ms, abs=1e-6)
