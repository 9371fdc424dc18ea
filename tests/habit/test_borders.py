"""Where pushes begin and stop: worked numbers, and one border at a time in plain Python."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.habit import borders
from evenhand.habit.borders import find_borders
from evenhand.habit.pushes import falls, rises

# Lines at sixty-fourths of a bar around a bar line at 4, and further ones.
_LINES = st.lists(st.integers(200, 312), min_size=1, max_size=40, unique=True)


def _found(
    lines: list[float], level: list[float], at: float, taken: float, way: int = 1
) -> tuple[float, float, float]:
    found = find_borders(
        np.array(lines), np.array(level), np.array([at]), np.array([way]), np.array([taken])
    )
    border, slow, gain = (float(column[0]) for column in found)
    return border, slow, gain


def _steps(level: np.ndarray) -> float:
    return float(sum(abs(one - other) for one, other in pairwise(level.tolist())))


def _plainly(
    lines: np.ndarray, level: np.ndarray, at: float, taken: float, way: int
) -> tuple[float, float, float]:
    """The same for one border, one line after the other."""
    around = np.abs(lines - at) <= 0.25
    place, before = lines[around], level[around]
    near = sorted((abs(one - at), one) for one in place.tolist() if abs(one - at) <= 0.125)
    if not near:
        return at, 0.0, 0.0
    shape = rises if way > 0 else falls
    found = (np.inf, at, 0.0)
    for begin, comes in [*((one, 0.0) for _, one in near), (at, 0.125)]:
        left = _steps(before - taken * shape(place, begin, comes))
        if left < found[0] - 1e-9:
            found = (left, begin, comes)
    return found[1], found[2], (_steps(before) - found[0]) / abs(taken)


def test_of_borders_that_are_equally_good_the_nearest_to_the_bar_line_is_taken() -> None:
    # 20 ms from the bar line on: at once, at the line on it, evens the step of 20 ms.
    lines = [3.75, 3.875, 4.0, 4.125, 4.25]
    assert _found(lines, [0, 0, 20, 20, 20], 4.0, 20.0) == (4.0, 0.0, 1.0)
    assert _found(lines, [0, 0, 0, 20, 20], 4.0, 20.0) == (4.125, 0.0, 1.0)
    # In two steps of 10 ms: begun on the bar line or a line later, steps of 20 ms are left. The
    # later one is better by a rounding, which does not count.
    begin, slow, gain = _found(lines, [0, 0, 10 - 1e-12, 20, 20], 4.0, 20.0)
    assert (begin, slow) == (4.0, 0.0)
    assert gain == pytest.approx(0.0, abs=1e-9)


def test_a_push_that_comes_slowly() -> None:
    # Over an eighth of a bar before the bar line, in two steps of 10 ms.
    lines = [3.75, 3.875, 3.9375, 4.0, 4.0625]
    assert _found(lines, [0, 0, 10, 20, 20], 4.0, 20.0) == (4.0, 0.125, 1.0)
    # And one that goes slowly behind it.
    lines = [3.9375, 4.0, 4.0625, 4.125, 4.25]
    assert _found(lines, [20, 20, 10, 0, 0], 4.0, 20.0, -1) == (4.0, 0.125, 1.0)


def test_where_no_line_is_near_the_bar_line_it_stays() -> None:
    assert _found([3.0, 3.8, 4.2, 5.0], [0, 0, 20, 20], 4.0, 20.0) == (4.0, 0.0, 0.0)
    assert _found([9.0], [5.0], 4.0, 20.0) == (4.0, 0.0, 0.0)


@given(_LINES, st.integers(0, 2**32 - 1))
def test_all_borders_at_once_are_those_found_one_by_one(numbers: list[int], seed: int) -> None:
    dice = np.random.default_rng(seed)
    lines = np.sort(np.array(numbers)) / 64
    # Levels and pushes in eighths of a ms: no step is better by a rounding alone.
    level = dice.integers(-240, 240, len(lines)) / 8
    at = dice.integers(3, 6, 8).astype(np.float64)
    way, taken = dice.choice([1, -1], 8), dice.choice([-1, 1], 8) * dice.integers(8, 320, 8) / 8
    found = np.array(find_borders(lines, level, at, way, taken)).T
    for row, *one in zip(found, at.tolist(), taken.tolist(), way.tolist(), strict=True):
        assert row == pytest.approx(_plainly(lines, level, *one), abs=1e-9)


def test_as_many_at_a_time_as_there_is_room_for(monkeypatch: pytest.MonkeyPatch) -> None:
    dice = np.random.default_rng(6)
    lines, level = np.arange(640) / 64, dice.normal(0, 10, 640)
    at, way = np.arange(1.0, 9.0), np.tile([1, -1], 4)
    found = find_borders(lines, level, at, way, np.full(8, 20.0))
    monkeypatch.setattr(borders, "_ROOM", 1)
    again = find_borders(lines, level, at, way, np.full(8, 20.0))
    assert np.array_equal(found, again)
    # Of ever so many lines the nearest are tried.
    dense = np.arange(4000, 4401) / 1000 - 0.2
    border, slow, _ = _found(dense.tolist(), (20.0 * (dense >= 4.02)).tolist(), 4.0, 20.0)
    assert (border, slow) == pytest.approx((4.02, 0.0))
