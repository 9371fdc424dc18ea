"""Lean, spread, trend, swing and limbs by worked numbers."""

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_take

from evenhand import Recipe, assess
from evenhand.assessor import Assessment
from evenhand.measure.admissible import Admissible
from evenhand.measure.deviations import Trend, find_trend
from evenhand.measure.outliers import find_outliers
from evenhand.paper.assessment import trend_words

RECIPE = Recipe(grid="1/16", ghost_below=1)
# 120 bpm: 0.96 ticks are a ms.


def _assess(kick: int, snare: int, hat: int = 0, bars: int = 12) -> Assessment:
    notes = []
    for bar in range(1, bars + 1):
        start = bar * 1920
        notes += [(start + beat * 480 + hat, HAT) for beat in range(4)]
        notes += [(start + kick, KICK), (start + 960 + kick, KICK)]
        notes += [(start + 480 + snare, SNARE), (start + 1440 + snare, SNARE)]
    return assess(drum_take(notes), RECIPE)


def test_lean_and_window() -> None:
    # 24 ticks are 25 ms, 6 ticks 6.25 ms; the window is 12.5 ms.
    found = _assess(kick=-24, snare=6)
    assert found.whole.pieces["kick"].lean == pytest.approx(-25)
    assert found.whole.pieces["snare"].lean == pytest.approx(6.25)
    assert found.whole.pieces["kick"].near_line == 0
    assert found.whole.pieces["snare"].near_line == 100
    assert found.whole.anchors.near_line == 50
    assert found.whole.anchors.spread == pytest.approx((25 + 6.25) / 2)


def test_limbs() -> None:
    limbs = {(one.one, one.other): one for one in _assess(kick=-12, snare=12).whole.limbs}
    assert limbs["kick", "hat"].lean == pytest.approx(-12.5)
    assert limbs["snare", "hat"].lean == pytest.approx(12.5)
    assert limbs["kick", "hat"].pairs == 24


def test_latency_is_the_middle_of_all() -> None:
    found = _assess(kick=24, snare=24, hat=24)
    assert found.latency.ms == pytest.approx(25)
    assert found.latency.apart == pytest.approx(0)


def test_trend() -> None:
    bars = np.repeat(np.arange(5, 13), 3)
    lean = -11 + (bars - 5) * 8 / 7
    trend = find_trend(bars, lean)
    assert trend is not None
    assert (trend.first_bar, trend.last_bar) == (5, 12)
    assert trend.ms_per_bar == pytest.approx(8 / 7)
    assert trend_words(trend) == "11 ms ahead at bar 5, easing to 3 ms by bar 12"


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (-4, 6, "4 ms ahead at bar 1, turning to 6 ms behind by bar 9"),
        (3, 12, "3 ms behind at bar 1, growing to 12 ms behind by bar 9"),
    ],
)
def test_trends_in_words(first: float, last: float, words: str) -> None:
    assert trend_words(Trend((last - first) / 8, 1, 9, first, last)) == words


def test_noise_is_no_trend() -> None:
    random = np.random.default_rng(2)
    found = [find_trend(np.arange(40), random.normal(0, 10, 40)) is not None for _ in range(200)]
    # About 1 in 100 by chance.
    assert sum(found) <= 8


def test_runs_of_neighbours_are_one_entry() -> None:
    deviation = np.array([0, 30, 31, 32, 0, -50, 0, 20, np.nan])
    same = np.zeros(9)
    found = find_outliers(deviation, same, Admissible.around(same + 10), np.arange(9.0))
    assert [(one.first, one.last, one.strokes) for one in found] == [
        (5, 5, 1),
        (1, 3, 3),
        (7, 7, 1),
    ]
    assert found[1].off == 31
    assert found[1].furthest == 32


def test_swing_is_measured() -> None:
    # Rides at 2/3 of each beat: 2:1, the short part 166.7 ms at 120 bpm.
    notes = []
    for beat in range(4, 36):
        notes += [(beat * 480, 51), (beat * 480 + 320, 51)]
        notes.append((beat * 480, KICK if beat % 2 == 0 else SNARE))
    swing = assess(drum_take(notes), Recipe(grid="1/8", swing=66.7, ghost_below=1)).whole.swing
    assert swing is not None
    assert swing.ratio == pytest.approx(2, abs=0.01)
    assert swing.short_ms == pytest.approx(1000 / 6, abs=0.5)


def test_a_take_without_anchors_has_a_view() -> None:
    found = assess(drum_take([(480 * beat, HAT) for beat in range(40)]), RECIPE)
    assert found.whole.anchors.lined == 0
    assert found.outliers == []
