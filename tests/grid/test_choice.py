"""The grid that was played: invented places with a known answer, and places with none."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.evaluation.takes import PATTERNS, invented_places

from evenhand.grid.choice import CANDIDATES, FEWEST, RARE, choose_grid, fit_candidates

# Slow enough for lines to be 80 ms apart at 20 ms spread.
QUARTER = {"1/8": 500.0, "1/8T": 500.0, "1/16": 500.0, "1/16T": 540.0, "1/32": 720.0}


@pytest.mark.parametrize("grid", PATTERNS)
@pytest.mark.parametrize("seed", range(3))
def test_straight_grids(grid: str, seed: int) -> None:
    random = np.random.default_rng(seed)
    choice = choose_grid(invented_places(random, grid, 50, 16, QUARTER[grid]) % 4, QUARTER[grid])
    assert (choice.grid, choice.swing) == (grid, 50)
    assert choice.explained[grid] > 75


@pytest.mark.parametrize("swing", [56.0, 60.0, 66.7])
@pytest.mark.parametrize(("grid", "quarter"), [("1/8", 500.0), ("1/16", 700.0)])
def test_swing(grid: str, quarter: float, swing: float) -> None:
    places = invented_places(np.random.default_rng(1), grid, swing, 16, quarter) % 4
    choice = choose_grid(places, quarter)
    assert choice.grid == grid
    assert choice.swing == pytest.approx(swing, abs=2)
    assert choice.lines is not None
    assert choice.words == f"{grid} swing {choice.swing:g} %"


def tuplets(seed: int, many: int, quarter: float, spread: float) -> np.ndarray:
    """A groove in which each quarter is parted in five or seven: hats all the way."""
    random = np.random.default_rng(seed)
    places = np.concatenate([np.arange(4 * many * 16) / many, np.arange(64.0)])
    return places + random.normal(0, spread, len(places)) / quarter


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("grid", "many"), [("1/16Q", 5), ("1/16S", 7)])
def test_five_and_seven_in_a_quarter(grid: str, many: int, seed: int) -> None:
    """Lines 110 ms apart, as close to others' as 16 ms: told if it is played within 10 ms."""
    choice = choose_grid(tuplets(seed, many, 110.0 * many, 10) % 4, 110.0 * many)
    assert (choice.grid, choice.swing) == (grid, 50)
    assert choice.explained[grid] > 75


def test_a_grid_explains_three_hits_of_five_at_least() -> None:
    """Sixteenths, and among them hits that lie anywhere."""
    random = np.random.default_rng(5)
    straight = np.arange(256) / 4 + random.normal(0, 0.01, 256)
    for strewn, known in ((100, True), (260, False)):
        places = np.concatenate([straight, random.uniform(0, 64, strewn)]) % 4
        choice = choose_grid(places, 1000.0)
        share = choice.explained["1/16"]
        # Of those that lie anywhere a few are taken for the grid's own.
        assert share == pytest.approx(100 * 256 / (256 + strewn), abs=6)
        assert choice.grid == ("1/16" if known else None)
        if not known:
            assert choice.doubt == f"the best, 1/16, explains only {share:.0f} % of the hits"


def test_a_given_swing_stays() -> None:
    places = invented_places(np.random.default_rng(1), "1/8", 60, 16, 500.0) % 4
    assert choose_grid(places, 500.0, swing=58.0).swing == 58


@pytest.mark.parametrize("many", [40, 300, 3000])
def test_strewn_hits_have_no_grid(many: int) -> None:
    choice = choose_grid(np.random.default_rng(many).random(many) * 4, 500.0)
    assert choice.grid is None
    assert choice.doubt


def test_too_few_hits_tell_nothing() -> None:
    choice = choose_grid(np.arange(FEWEST - 1) / 2, 500.0)
    assert (choice.grid, choice.explained) == (None, {})
    assert "fewer than" in choice.doubt


@given(st.lists(st.floats(-8, 4000), max_size=60), st.floats(100, 3000))
def test_any_places_get_an_answer(places: list[float], quarter: float) -> None:
    choice = choose_grid(np.array(places), quarter)
    assert choice.grid in (None, *CANDIDATES, *RARE)
    assert all(0 <= share <= 100 for share in choice.explained.values())


def test_parts_fitted_side_by_side_are_fitted_as_each_alone() -> None:
    # More than are fitted at a time, of their own grids and tempi, one of them with too few places.
    parts, quarters = [np.arange(FEWEST - 1) / 2], [500.0]
    for seed, grid in enumerate([*PATTERNS, *PATTERNS, *PATTERNS]):
        quarter = QUARTER[grid] * (1 + seed / 10)
        places = invented_places(np.random.default_rng(seed), grid, 50, 4, quarter) % 4
        parts.append(places)
        quarters.append(quarter)
    parts.append(tuplets(1, 5, 550.0, 5) % 4)
    quarters.append(550.0)
    together = fit_candidates(parts, quarters, None)
    assert len(parts) > 2 * 8
    assert together[0] == {}
    assert "1/16Q" in together[-1]
    for fits, places, quarter in zip(together[1:], parts[1:], quarters[1:], strict=True):
        (alone,) = fit_candidates([places], [quarter], None)
        assert fits.keys() == alone.keys()
        for name, fit in fits.items():
            assert fit.score == pytest.approx(alone[name].score, abs=1e-9)
            assert fit.swing == pytest.approx(alone[name].swing, abs=1e-6)
