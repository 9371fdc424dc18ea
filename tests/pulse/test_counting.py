"""Which way to count, where the beat falls, and what can't be told: invented grooves."""

import numpy as np
import pytest
from tests.evaluation.learn_marks import Case, learn

from evenhand.pulse import counting, phase
from evenhand.pulse.bars import find_bar
from evenhand.pulse.count_in import find_count_in
from evenhand.pulse.counting import ways_to_count
from evenhand.pulse.phase import find_phase
from evenhand.pulse.recurrence import Onsets
from evenhand.pulse.search import STEADY, fit_beats
from evenhand.pulse.steady import Hints, find_tempo, on_a_click
from evenhand.pulse.tellable import is_run, no_pulse, why_untold


def _groove(pattern: dict[str, tuple[float, ...]], beats: int, bpm: float, bars: int) -> Onsets:
    """Bars of a pattern, places in beats, played with 8 ms of spread from 1 s on."""
    random = np.random.default_rng(5)
    rows = sorted(
        (1 + (bar * beats + place) * 60 / bpm + random.normal(0, 0.008), piece)
        for bar in range(bars)
        for piece, places in pattern.items()
        for place in places
    )
    return _onsets(np.array([s for s, _ in rows]), [piece for _, piece in rows])


def _onsets(s: np.ndarray, pieces: list[str], weight: np.ndarray | None = None) -> Onsets:
    piece = np.array(pieces)
    return Onsets(
        s=s,
        weight=np.full(len(s), 0.8) if weight is None else weight,
        kick=piece == "kick",
        snare=piece == "snare",
        keeper=np.isin(piece, ("hat", "ride")),
        crash=piece == "crash",
        piece=piece,
    )


_ROCK = {"kick": (0.0, 2.0), "snare": (1.0, 3.0), "hat": tuple(np.arange(8) / 2)}
_SIX = {"kick": (0.0, 2.5), "snare": (3.0,), "hat": tuple(np.arange(6.0))}
_WALTZ = {"kick": (0.0,), "snare": (1.0, 2.0), "hat": (0.0, 1.0, 1.5, 2.0)}
_RIDE = {"ride": (0.0, 1.0, 1.66, 2.0, 3.0, 3.66), "kick": (0.0,)}


@pytest.mark.parametrize("bpm", [76.0, 93.0, 118.0])
def test_plain_eighths_are_not_counted_double(bpm: float) -> None:
    onsets = _groove(_ROCK, 4, bpm, 24)
    assert find_tempo(onsets, Hints())[0] * 60 == pytest.approx(bpm, rel=0.002)


def test_swung_time_without_a_backbeat_is_counted_fast() -> None:
    # Ride "ding, ding-a" at 190: at half of that its eighths would be swung sixteenths.
    onsets = _groove(_RIDE, 4, 190.0, 40)
    assert find_tempo(onsets, Hints())[0] * 60 == pytest.approx(190, rel=0.002)


def test_chances_add_up_and_are_in_order() -> None:
    chances = [way.chance for way in ways_to_count(_groove(_ROCK, 4, 100.0, 24), 100 / 60)]
    assert sum(chances) == pytest.approx(1)
    assert chances == sorted(chances, reverse=True)


def test_a_backbeat_in_the_middle_of_six_is_six_eighths() -> None:
    fit = fit_beats(_groove(_SIX, 6, 130.0, 24), Hints())
    assert (fit.beats, fit.unit) == (6, 8)
    # A tempo is in quarters: 130 eighths a minute are 65.
    assert fit.bpm == pytest.approx(65, rel=0.002)
    bar = 6 * 60 / 130
    assert abs((fit.beat[0] - 1 + bar / 2) % bar - bar / 2) < 0.03


def test_threes_are_waltzes_unless_short_with_a_backbeat() -> None:
    slow = _groove(_WALTZ, 3, 96.0, 24)
    bar = find_bar(slow, (slow.s - 1) * 1.6, 1.6)
    assert (bar.beats, bar.unit, bar.first, bar.rival) == (3, 4, 0, None)
    # The same at 160: bars of 1.1 s with a snare in each are halves of 6/8, with doubt.
    fast = _groove(_WALTZ, 3, 160.0, 24)
    bar = find_bar(fast, (fast.s - 1) * 160 / 60, 160 / 60)
    assert (bar.beats, bar.unit, bar.rival) == (6, 8, (3, 4))


def test_a_hint_is_of_quarters_whatever_the_meter() -> None:
    onsets = _groove(_SIX, 6, 130.0, 24)
    fit = fit_beats(onsets, Hints(near=64.0, beats=6, unit=8), STEADY)
    assert fit.bpm == pytest.approx(65, rel=0.002)
    assert np.diff(fit.beat) == pytest.approx(60 / 130, rel=0.002)


def test_the_beat_is_where_kicks_and_first_hits_are() -> None:
    onsets = _groove(_ROCK, 4, 100.0, 24)
    found, margin = find_phase(onsets, 100 / 60)
    assert abs((found - 100 / 60 + 0.5) % 1 - 0.5) < 0.02
    assert margin > 1


def test_clicks_run_at_whole_tempi() -> None:
    onsets = _groove(_ROCK, 4, 120.0, 30)
    assert on_a_click(onsets, 120.03 / 60) == 2
    assert on_a_click(onsets, 120.4 / 60) == 120.4 / 60


def test_a_count_fills_bars() -> None:
    place = np.array([0.0, 1.0, 2.0, 3.0, 3.5, 4.0, 5.0])
    music = _onsets(place, ["hat", "hat", "hat", "kick", "snare", "kick", "snare"])
    assert find_count_in(music, place, 4) is None
    assert find_count_in(music, place, 6) is None
    found = find_count_in(music, place, 3)
    assert found is not None
    assert (found.hits, found.next_beat) == (3, 3)


def test_few_strokes_tell_nothing_however_many_hits() -> None:
    s = np.repeat(np.arange(7) * 0.5, 2)
    chords = _onsets(s, ["kick", "hat"] * 7)
    assert why_untold(chords, hinted=True) == "there are only 7 strokes (it takes 8)"


def test_a_roll_is_a_run_and_accents_end_it() -> None:
    s = np.cumsum(1 / 14 + np.random.default_rng(0).normal(0, 0.004, 200))
    assert is_run(_onsets(s, ["snare"] * 200))
    assert "one even run" in why_untold(_onsets(s, ["snare"] * 200), hinted=False)
    assert not why_untold(_onsets(s, ["snare"] * 200), hinted=True)
    accents = np.where(np.arange(200) % 4 == 0, 1.0, 0.6)
    assert not is_run(_onsets(s, ["snare"] * 200, accents))
    assert not is_run(_onsets(np.arange(40) * 0.5, ["kick"] * 40))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("count", [40, 300])
def test_strewn_hits_share_no_pulse(seed: int, count: int) -> None:
    random = np.random.default_rng(seed)
    s = np.sort(random.uniform(0, count / 5, count))
    onsets = _onsets(s, random.choice(["kick", "snare", "hat", "tom 1"], count).tolist())
    fit = fit_beats(onsets, Hints())
    assert no_pulse(onsets, fit.coherence, fit.steady)
    groove = _groove(_ROCK, 4, 100.0, 8)
    assert not no_pulse(groove, fit_beats(groove, Hints()).coherence, steady=True)


def test_weights_are_learnt_from_what_was_chosen() -> None:
    # The right one always has the larger first mark; the second mark is noise.
    random = np.random.default_rng(1)
    cases = []
    for at in range(60):
        marks = random.normal(0, 1, (4, 2))
        cases.append(Case(str(at), marks, int(np.argmax(marks[:, 0])), 1.0))
    first, second = learn(cases, 0.3)
    assert first > 3
    assert abs(second) < 0.5


def test_as_many_marks_as_weights() -> None:
    onsets = _groove(_ROCK, 4, 100.0, 8)
    found = counting.marks(onsets, np.array([100 / 60, 200 / 60]))
    assert found.shape == (2, len(counting.WEIGHTS))
    assert phase.places_of_beat(onsets, 100 / 60).marks.shape[1] == len(phase.WEIGHTS)
