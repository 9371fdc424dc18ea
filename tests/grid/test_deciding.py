"""Which of the fitted grids is taken, and what is said of doubt: worked scores."""

import numpy as np
import pytest
from tests.build import KICK, drum_take

from evenhand.grid.choice import _best, _Fit, choose_grid, decide
from evenhand.grid.layout import find_layout
from evenhand.sections import Sections


def _fit(score: float, explained: float = 95.0, shown: float = 0.5, swing: float = 50.0) -> _Fit:
    return _Fit(swing, explained, shown, score, score)


def test_the_best_score_is_taken_without_doubt() -> None:
    made = decide({"1/8": _fit(0.3), "1/16": _fit(0.5), "1/8T": _fit(0.1)}, 100)
    assert (made.grid, made.swing, made.doubt, made.places) == ("1/16", 50.0, "", 100)
    assert made.explained == {"1/8": 95.0, "1/16": 95.0, "1/8T": 95.0}


def test_one_may_be_taken_whatever_its_score() -> None:
    made = decide({"1/8": _fit(0.3), "1/16": _fit(0.5), "1/8T": _fit(0.1)}, 100, take="1/8T")
    assert made.grid == "1/8T"
    assert made.doubt == "1/16 explains them nearly as well"


@pytest.mark.parametrize(
    ("fits", "places", "doubt"),
    [
        ({"1/8": _fit(0.5, 74.9), "1/8T": _fit(0.1)}, 99, "it explains only 75 % of the hits"),
        ({"1/8": _fit(0.5, 75.0), "1/8T": _fit(0.1)}, 99, ""),
        (
            {"1/8": _fit(0.5, shown=0.119), "1/8T": _fit(0.1)},
            99,
            "it hardly shows: the hits are loose, or lines too close for them",
        ),
        ({"1/8": _fit(0.5, shown=0.12), "1/8T": _fit(0.1)}, 99, ""),
        ({"1/8": _fit(0.5), "1/8T": _fit(0.475)}, 99, "1/8T explains them nearly as well"),
        ({"1/8": _fit(0.5), "1/8T": _fit(0.465)}, 99, ""),
        # A grid that only leaves out lines of the best is no rival, unless the best swings.
        ({"1/16": _fit(0.5), "1/8": _fit(0.475)}, 99, ""),
        (
            {"1/16": _fit(0.5, swing=60.0), "1/8": _fit(0.475)},
            99,
            "1/8 explains them nearly as well",
        ),
        ({"1/8": _fit(0.5), "1/8T": _fit(0.1)}, 31, "there are only 31 hits to go by"),
        ({"1/8": _fit(0.5), "1/8T": _fit(0.1)}, 32, ""),
        (
            {"1/8": _fit(0.5, 70.0), "1/8T": _fit(0.475)},
            20,
            "it explains only 70 % of the hits; 1/8T explains them nearly as well; "
            "there are only 20 hits to go by",
        ),
    ],
)
def test_doubt_is_said(fits: dict[str, _Fit], places: int, doubt: str) -> None:
    made = decide(fits, places)
    assert made.grid == max(fits, key=lambda name: fits[name].score)
    assert made.doubt == doubt


def test_where_nothing_explains_the_hits_there_is_no_grid() -> None:
    made = decide({"1/8": _fit(0.5, 59.9, swing=60.0), "1/8T": _fit(0.1)}, 50)
    assert (made.grid, made.swing) == (None, 50.0)
    assert made.doubt == "the best, 1/8, explains only 60 % of the hits"
    assert decide({"1/8": _fit(0.5, 60.0), "1/8T": _fit(0.1)}, 50).grid == "1/8"
    none = decide({}, 7)
    assert (none.grid, none.doubt) == (None, "fewer than 8 hits to go by")


def test_swing_must_be_clear_to_be_taken() -> None:
    straight, barely, clearly = _fit(0.4), _fit(0.6, swing=52.4), _fit(0.5, swing=52.5)
    assert _best(straight) is straight
    assert _best(straight, barely) is straight
    assert _best(straight, clearly) is clearly
    # The best of all is what must be clear.
    assert _best(straight, barely, clearly) is straight
    assert _best(_fit(0.7), clearly).swing == 50.0


def test_two_sections_have_two_grids() -> None:
    # Eight bars of triplets, then eight of sixteenths, a few ticks loose.
    dice = np.random.default_rng(1)
    triplets = np.arange(96) * 160.0
    straight = 15360 + np.arange(128) * 120.0
    tick = np.concatenate([triplets, straight]) + dice.normal(0, 4, 224)
    sections = Sections(
        begin=np.array([0.0, 15360.0]),
        bar=np.array([1, 9]),
        last=16,
        early=60.0,
        name=("A", "B"),
        source="by hand",
    )
    layout = find_layout(tick, sections, drum_take([(0, KICK)]).time)
    assert [grid and grid.name for grid in layout.grids] == ["1/8T", "1/16"]
    assert [choice.places for choice in layout.choices] == [96, 128]
    assert layout.whole is not None
    assert layout.whole.places == 224


def test_a_section_is_held_against_the_rare_grid_of_its_take() -> None:
    # Twelve bars of five in a quarter, then four of eighths, which have none to be drawn to.
    dice = np.random.default_rng(2)
    fives, eighths = np.arange(240) * 96.0, 23040 + np.arange(32) * 240.0
    tick = np.concatenate([fives, eighths]) + dice.normal(0, 3, 272)
    sections = Sections(
        begin=np.array([0.0, 23040.0]),
        bar=np.array([1, 13]),
        last=16,
        early=60.0,
        name=("A", "B"),
        source="by hand",
    )
    layout = find_layout(tick, sections, drum_take([(0, KICK)], bpm=60).time)
    assert layout.whole is not None
    assert layout.whole.grid == "1/16Q"
    assert "1/16Q" in layout.choices[1].explained
    assert [grid and grid.name for grid in layout.grids] == ["1/16Q", "1/8"]


@pytest.mark.parametrize("swing", [54.0, 66.7, 76.0, 78.0])
def test_swing_is_found_over_all_its_range(swing: float) -> None:
    # Eighths at 100 bpm, 2 ms loose; the lean is 0.
    dice = np.random.default_rng(3)
    beat = np.repeat(np.arange(64.0), 2) + np.tile([0.0, swing / 100], 64)
    found = choose_grid(beat + dice.normal(0, 0.003, 128), 600.0)
    assert found.grid == "1/8" if swing != 66.7 else found.grid in ("1/8", "1/8T")
    assert found.swings["1/8"] == pytest.approx(swing, abs=0.3)
