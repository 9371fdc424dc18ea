"""Admissible intervals: both sides apart, worked numbers."""

import numpy as np

from evenhand.measure import Admissible


def test_the_sides_may_differ_and_each_stroke_has_its_own() -> None:
    width = Admissible(np.array([-10.0, -20.0]), np.array([5.0, 30.0]))
    assert width.contains(np.array([-10.0, -20.5])).tolist() == [True, False]
    assert width.contains(np.array([5.5, 30.0])).tolist() == [False, True]
    assert width.side(np.array([-11.0, 31.0])).tolist() == [-1, 1]
    assert width.beyond(np.array([-12.0, 29.0])).tolist() == [-2, 0]
    assert width.beyond(np.array([8.0, 36.0])).tolist() == [3, 6]
    assert width.half.tolist() == [7.5, 25]
    assert width.at(np.array([1])).high.tolist() == [30]


def test_noise_of_floating_point_decides_nothing() -> None:
    window = Admissible.around(np.array([20.0]))
    # 1024.4 - 1004.4 is a little more than 20 in floating point.
    assert window.contains(np.array([1024.4 - 1004.4])).all()
    assert window.side(np.array([20.001])).tolist() == [1]


def test_what_is_no_number_is_neither_inside_nor_on_a_side() -> None:
    window = Admissible.around(np.array([20.0]))
    assert not window.contains(np.array([np.nan])).any()
    assert window.side(np.array([np.nan])).tolist() == [0]


def test_shifts_that_bring_each_inside() -> None:
    width = Admissible(np.array([-10.0, -1.0]), np.array([5.0, 1.0]))
    low, high = width.shifts(np.array([8.0, 0.5]), np.array([1.0, 2.0]))
    # From 8 to -9 … 4, a ms inside; where there is no room for that, to the target.
    assert (low.tolist(), high.tolist()) == ([-17, -0.5], [-4, -0.5])
