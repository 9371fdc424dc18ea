"""Courses over days and personal bests, by worked numbers."""

import datetime as dt
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.jobs.practice.measures import Point
from evenhand.jobs.practice.over_time import find_bests, find_change, find_courses, sorted_by_key
from evenhand.jobs.practice.tempi import TempoGroup

GROUP = TempoGroup(100, 20)
FIRST = dt.date(2026, 11, 3)


def _point(take: int, value: float, measure: str = "spread", limb: str = "kick") -> Point:
    return Point(take, GROUP, 110.0, measure, limb, value, 13.0)


def test_change_by_hand() -> None:
    # 20 ms on the first of seven days two apart, 0.5 ms less each day; two takes on one of them,
    # whose middle counts.
    day = np.array([0, 2, 4, 6, 6, 8, 10, 12])
    value = np.array([20, 19, 18, 16.5, 17.5, 16, 15, 14.0])
    change, why_not = find_change(day, value)
    assert change is not None
    assert why_not == ""
    assert change.per_day == pytest.approx(-0.5)
    assert (change.first, change.last) == (pytest.approx(20), pytest.approx(14))


def test_one_slip_does_not_turn_a_change() -> None:
    value = np.array([20, 19, 18, 17, 99, 15, 14, 13, 12, 11.0])
    change, _ = find_change(np.arange(10), value)
    assert change is not None
    assert change.per_day == pytest.approx(-1, abs=0.05)


def test_no_change_from_few_days_or_from_chance() -> None:
    assert find_change(np.array([1]), np.array([5.0])) == (None, "one take is too few for a trend")
    _, why_not = find_change(np.arange(5), np.arange(5.0))
    assert why_not == "5 days are too few for a trend (it takes 6)"
    _, why_not = find_change(np.full(40, 3), np.arange(40.0))
    assert why_not.startswith("1 day is too few")
    _, why_not = find_change(np.arange(8), np.array([5, 9, 4, 8, 6, 9, 3, 7.0]))
    assert why_not == "no sure change"


def test_chance_seldom_makes_a_change() -> None:
    dice = np.random.default_rng(5)
    found = [find_change(np.arange(20), dice.normal(size=20))[0] for _ in range(1000)]
    # About 1 in 100 by the rule; three standard deviations of that count are 9.4.
    assert sum(one is not None for one in found) < 20


def test_years_of_days_are_put_together() -> None:
    day = np.arange(3000)
    change, _ = find_change(day, 30 - day * 0.004)
    assert change is not None
    assert change.per_day == pytest.approx(-0.004)


def test_courses() -> None:
    points = [_point(take, value) for take, value in enumerate([22.0, 18.0, 17.0])]
    days = [FIRST, FIRST, FIRST + dt.timedelta(4)]
    (course,) = find_courses(sorted_by_key(points), days)
    assert (course.takes, course.days) == (3, 2)
    assert (course.first, course.last) == (FIRST, FIRST + dt.timedelta(4))
    assert course.middle == pytest.approx((20 + 17) / 2)
    assert math.isnan(course.per_month)
    # In 30 days, from what changes in one.
    fall = [_point(take, 20.0 - take / 2) for take in range(8)]
    (course,) = find_courses(sorted_by_key(fall), [FIRST + dt.timedelta(n) for n in range(8)])
    assert course.per_month == pytest.approx(-15)


def test_bests_are_against_oneself_at_one_tempo() -> None:
    points = [_point(0, 18.0), _point(1, 12.0), _point(2, 12.0), _point(3, 14.0)]
    points += [_point(0, 3.0, limb="snare"), _point(0, -9.0, "lean"), _point(1, 9.0, "lean")]
    (best,) = find_bests(sorted_by_key(points))
    assert (best.key.limb, best.takes) == ("kick", 4)
    assert (best.point.take, best.point.value, best.latest.value) == (1, 12.0, 14.0)


@given(
    st.lists(st.tuples(st.integers(0, 40), st.floats(0, 50)), min_size=2, max_size=60),
    st.floats(-5, 5),
)
def test_mirrored_figures_change_the_other_way(
    pairs: list[tuple[int, float]], level: float
) -> None:
    day = np.array([one for one, _ in pairs])
    value = np.array([other for _, other in pairs])
    change, why_not = find_change(day, value)
    mirrored, why_not_mirrored = find_change(day, -value)
    assert why_not == why_not_mirrored
    if change and mirrored:
        assert mirrored.per_day == pytest.approx(-change.per_day)
