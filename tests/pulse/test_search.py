"""The real tempo: takes with a known answer, and takes that have none."""

import numpy as np
import pytest
from tests.evaluation.takes import PATTERNS, invented_wander

from evenhand.pulse.recurrence import Onsets, coherence
from evenhand.pulse.search import FOLLOW, STEADY, fit_beats, keeps_time
from evenhand.pulse.steady import Hints


def _onsets(rows: list[tuple[float, str, int]]) -> Onsets:
    rows = sorted(rows)
    piece = np.array([row[1] for row in rows])
    return Onsets(
        s=np.array([row[0] for row in rows]),
        weight=np.sqrt(np.array([row[2] for row in rows]) / 127),
        kick=piece == "kick",
        snare=piece == "snare",
        keeper=np.isin(piece, ("hat", "ride")),
        crash=piece == "crash",
        piece=piece,
    )


def _steady(bpm: float, bars: int, start: float = 1.0, beats: int = 4) -> Onsets:
    random = np.random.default_rng(int(bpm))
    rows = []
    for bar in range(bars):
        for piece, places in PATTERNS["1/8"].items():
            for place in places:
                if place < beats:
                    s = start + (bar * beats + place) * 60 / bpm + random.normal(0, 0.008)
                    rows.append((s, piece, 100 if place == int(place) else 70))
        rows.append((start + bar * beats * 60 / bpm, "crash", 110)) if bar % 8 == 0 else None
    return _onsets(rows)


@pytest.mark.parametrize("bpm", [84.0, 93.7, 120.0, 141.3])
def test_one_tempo(bpm: float) -> None:
    fit = fit_beats(_steady(bpm, 24), Hints())
    assert fit.steady
    assert fit.bpm == pytest.approx(bpm, rel=0.001)
    assert (fit.beats, fit.unit) == (4, 4)
    beat = 60 / bpm
    assert abs((float(fit.beat[0]) - 1.0 + beat / 2) % beat - beat / 2) < 0.025
    bar = 4 * beat
    assert abs((float(fit.beat[0]) - 1.0 + bar / 2) % bar - bar / 2) < 0.06


def test_three_beats_in_a_bar() -> None:
    assert fit_beats(_steady(110.0, 24, beats=3), Hints()).beats == 3


def test_hints_are_kept() -> None:
    onsets = _steady(120.0, 16)
    assert fit_beats(onsets, Hints(near=57.0)).bpm == pytest.approx(60, rel=0.001)
    assert fit_beats(onsets, Hints(near=240.0)).bpm == pytest.approx(240, rel=0.001)
    fit = fit_beats(onsets, Hints(beats=7, unit=8, first_beat=1.5))
    assert (fit.beats, fit.unit) == (7, 8)
    assert (fit.beat - 1.5).min() == pytest.approx(0, abs=7 * 0.5)
    assert np.abs((fit.beat - 1.5 + 0.25) % 0.5 - 0.25).max() < 1e-2


def test_a_count_in_is_told_and_sets_the_bar() -> None:
    rows = [(0.5 + beat * 0.5, "side stick", 90) for beat in range(4)]
    music = _steady(120.0, 12, start=2.5)
    rows += [
        (float(s), str(piece), int(127 * weight**2))
        for s, piece, weight in zip(music.s, music.piece, music.weight, strict=True)
    ]
    fit = fit_beats(_onsets(rows), Hints())
    assert fit.count_in is not None
    assert (fit.count_in.hits, fit.count_in.piece) == (4, "side stick")
    assert abs((float(fit.beat[0]) - 2.5 + 1) % 2 - 1) < 0.03


@pytest.mark.parametrize("kind", ["wander", "steps"])
@pytest.mark.parametrize("seed", range(3))
def test_a_tempo_that_changes_is_followed(kind: str, seed: int) -> None:
    import mir_eval

    # Beat F-measure as implemented in mir_eval, its tolerance narrowed to 30 ms.
    onsets, beats = invented_wander(np.random.default_rng(seed), kind, bars=40)
    bpm = 60 / float(np.median(np.diff(beats)))
    fit = fit_beats(onsets, Hints(near=bpm), FOLLOW)
    assert not fit.steady
    assert mir_eval.beat.f_measure(beats, fit.beat[fit.beat < beats[-1] + 0.1], 0.03) > 0.97


def test_wandering_is_found_out() -> None:
    onsets, _ = invented_wander(np.random.default_rng(8), "wander", bars=40)
    assert not fit_beats(onsets, Hints()).steady
    assert fit_beats(onsets, Hints(), STEADY).steady


def test_keeping_time() -> None:
    assert keeps_time(_steady(100.0, 40), 100 / 60)
    assert not keeps_time(_steady(100.0, 40), 101 / 60)


@pytest.mark.parametrize("seed", range(3))
def test_no_pulse_is_told(seed: int) -> None:
    random = np.random.default_rng(seed)
    rows = [(float(s), "snare", 80) for s in random.uniform(0, 60, 300)]
    assert any("guess" in doubt for doubt in fit_beats(_onsets(rows), Hints(), STEADY).doubts)


def test_coherence_of_a_metronome_and_of_nothing() -> None:
    clicks = np.arange(60) * 0.5
    found = coherence(clicks, np.ones(60), np.array([2.0, 3.0]))
    assert found[0] == pytest.approx(1, abs=0.05)
    assert found[1] < 0.05
    assert coherence(np.zeros(0), np.zeros(0), np.array([2.0])).tolist() == [0]


def test_the_fewest_hits_are_enough_for_an_answer() -> None:
    rows = [(s * 0.5, "kick", 90) for s in range(8)]
    assert fit_beats(_onsets(rows), Hints()).beat.size > 1
