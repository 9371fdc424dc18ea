"""Spans: worked numbers, and the exact optimum against trying everything."""

from itertools import product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.lengths import examples

from evenhand.plan.spans import cost_of, fewest_spans, find_spans, number_spans

Intervals = list[tuple[float, float]]


def _find(intervals: Intervals, span_cost: float) -> list[float]:
    low, high = np.array(intervals, np.float64).reshape(-1, 2).T
    return find_spans(low, high, span_cost).tolist()


def _brute_force(intervals: Intervals, span_cost: float) -> float:
    """Try every way; an optimum uses 0 and ends of the intervals only.

    (Moving a span's shift towards 0 makes it cheaper until it meets 0 or an end.)
    """
    ends = sorted({0.0, *(end for interval in intervals for end in interval)})
    allowed = [[end for end in ends if low <= end <= high] for low, high in intervals]
    return min(_cost(shift, span_cost) for shift in product(*allowed))


def _cost(shift: tuple[float, ...], span_cost: float) -> float:
    spans = sum(
        one != 0 and (index == 0 or shift[index - 1] != one) for index, one in enumerate(shift)
    )
    return span_cost * spans + sum(map(abs, shift))


def test_nothing_to_do() -> None:
    assert _find([], 30) == []
    assert _find([(-3, 5), (0, 0), (0, 8)], 30) == [0, 0, 0]


def test_strokes_that_err_alike_are_one_span() -> None:
    # Three late strokes: -15 … -5, -20 … -8, -12 … -4 have -12 … -8 in common; -8 is the least.
    assert _find([(-15, -5), (-20, -8), (-12, -4)], 30) == [-8, -8, -8]


def test_spans_part_where_the_movement_saved_is_worth_it() -> None:
    # Together: 30 + 4 × 20 = 110. Apart: 2 × 30 + 3 × 5 + 20 = 95.
    apart: Intervals = [(5, 25), (5, 25), (5, 25), (20, 40)]
    assert _find(apart, 30) == [5, 5, 5, 20]
    # Dearer spans: 50 + 80 = 130 against 100 + 35 = 135.
    assert _find(apart, 50) == [20, 20, 20, 20]


def test_good_strokes_between_may_come_along() -> None:
    # The middle one may stay, but moving it by 6 costs less than another span.
    assert _find([(6, 20), (-10, 10), (6, 20)], 30) == [6, 6, 6]
    assert _find([(6, 20), (-10, 10), (6, 20)], 5) == [6, 0, 6]


def test_held_stroke_parts_two_spans() -> None:
    assert _find([(6, 20), (0, 0), (6, 20)], 30) == [6, 0, 6]


def test_spans_are_numbered() -> None:
    shift = np.array([0.0, 5, 5, -3, 0, -3, 0])
    assert number_spans(shift).tolist() == [0, 1, 1, 2, 0, 3, 0]
    assert cost_of(shift, 10) == 10 * 3 + 16


@st.composite
def _intervals(draw: st.DrawFn) -> Intervals:
    """Whole numbers, so that equal costs are exactly equal; some strokes are held."""
    intervals: Intervals = []
    for _ in range(draw(st.integers(0, 6))):
        low, width = draw(st.integers(-20, 15)), draw(st.integers(0, 14))
        held = draw(st.integers(0, 7)) == 0
        intervals.append((0.0, 0.0) if held else (float(low), float(low + width)))
    return intervals


@settings(max_examples=examples(400), deadline=None, derandomize=True)
@given(_intervals(), st.integers(0, 40))
def test_no_way_is_cheaper(intervals: Intervals, span_cost: int) -> None:
    shift = _find(intervals, span_cost)
    assert all(low <= one <= high for one, (low, high) in zip(shift, intervals, strict=True))
    assert cost_of(np.array(shift), span_cost) == _cost(tuple(shift), span_cost)
    assert _cost(tuple(shift), span_cost) == _brute_force(intervals, span_cost)


@settings(max_examples=examples(100), deadline=None, derandomize=True)
@given(_intervals())
def test_floor_is_the_fewest_spans(intervals: Intervals) -> None:
    low, high = np.array(intervals, np.float64).reshape(-1, 2).T
    fewest = _brute_force(intervals, 10_000) // 10_000
    assert fewest_spans(low, high) == fewest
