"""Medians of groups, and medians drawn towards 0: worked numbers."""

import numpy as np

from evenhand.habit.groups import drawn, middles


def test_the_middle_of_each_group() -> None:
    value = np.array([3.0, 10.0, 1.0, 2.0, 20.0, -7.0])
    middle, many = middles(value, np.array([0, 2, 0, 0, 2, 3]), 5)
    assert middle.tolist() == [2.0, 0.0, 15.0, -7.0, 0.0]
    assert many.tolist() == [3, 0, 2, 1, 0]


def test_nothing_has_the_middle_zero() -> None:
    middle, many = middles(np.zeros(0), np.zeros(0, np.int64), 2)
    assert (middle.tolist(), many.tolist()) == ([0, 0], [0, 0])
    assert many.dtype == np.float64


def test_a_middle_is_drawn_by_so_many_more() -> None:
    # 6 from three hits with a weight of 3: half of it; 10 from one: a quarter.
    value = np.array([5.0, 6.0, 8.0, 10.0])
    assert drawn(value, np.array([0, 0, 0, 1]), 2, 3.0).tolist() == [3.0, 2.5]
