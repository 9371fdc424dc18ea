"""Middles, spreads and straight lines, against NumPy and worked numbers."""

import numpy as np
import pytest

from evenhand.robust import MOST_POINTS, medians, spread_of, straight_line, thinned


def test_medians_of_groups_are_those_of_numpy() -> None:
    dice = np.random.default_rng(4)
    group = dice.permutation(np.append(np.arange(9), dice.integers(0, 9, 60)))
    values = dice.normal(size=len(group))
    expected = [np.median(values[group == one]) for one in range(9)]
    assert medians(values, group, 9).tolist() == expected


def test_spread_of_a_bell_is_its_standard_deviation() -> None:
    values = np.random.default_rng(1).normal(3, 10, 20_000)
    # The estimate errs by about 1.17 / sqrt(2 n), half a percent and a bit.
    assert spread_of(values, 3.0) == pytest.approx(10, rel=0.025)
    values[:200] = 1e6
    assert spread_of(values, 3.0) == pytest.approx(10, rel=0.04)


def test_straight_line_through_a_slip() -> None:
    place = np.arange(10.0)
    value = 5 - 2 * place
    value[4] = 99
    line = straight_line(place, value)
    assert line is not None
    assert (line.slope, line.level) == (-2, 5)
    assert line.at(3) == -1


def test_no_line_where_chance_would_do_as_well() -> None:
    assert straight_line(np.arange(8.0), np.array([5, 9, 4, 8, 6, 9, 3, 7.0])) is None
    assert straight_line(np.arange(8.0), np.zeros(8)) is None


def test_many_groups_are_thinned() -> None:
    group, count = thinned(np.arange(3 * MOST_POINTS - 1), 3 * MOST_POINTS - 1)
    assert count == MOST_POINTS
    assert np.bincount(group).tolist() == [3] * (MOST_POINTS - 1) + [2]
    same, count = thinned(np.arange(7), 7)
    assert (same.tolist(), count) == (list(range(7)), 7)
