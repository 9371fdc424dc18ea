"""Strokes, with worked numbers."""

import numpy as np
import pytest

from evenhand.columns import Ints
from evenhand.ground.strokes import Strokes, find_strokes
from evenhand.take import Hits


def _hits(velocity: Ints) -> Hits:
    count = len(velocity)
    column, nameless = np.arange(count), np.full(count, "")
    return Hits(
        *(column, column.astype(np.float64), column, velocity, column, column, column),
        *(nameless, nameless),
    )


def _strokes(
    ms: list[float],
    velocity: list[int] | None = None,
    anchor: list[bool] | None = None,
    together: float = 20,
) -> Strokes:
    times = np.array(ms, np.float64)
    hits = _hits(np.array(velocity or [100] * len(ms)))
    return find_strokes(times, times, hits, np.array(anchor or [True] * len(ms)), together)


def test_gap_to_the_previous_hit_counts() -> None:
    # 0, 20 and 40 chain: each gap is at most 20, though 40 is further from 0. 60.5 begins anew.
    strokes = _strokes([0, 20, 40, 60.5])
    assert strokes.of_hit.tolist() == [0, 0, 0, 1]
    assert (strokes.first.tolist(), strokes.last.tolist()) == ([0, 60.5], [40, 60.5])


def test_gap_on_paper_of_exactly_together_chains() -> None:
    # 1024.4 - 1004.4 is a little more than 20 in floating point.
    assert 1024.4 - 1004.4 > 20
    assert len(_strokes([1004.4, 1024.4])) == 1


def test_reference_is_the_loudest_the_earliest_of_equals() -> None:
    assert _strokes([0, 5, 10], [90, 120, 120]).reference.tolist() == [1]
    assert _strokes([10, 5, 0], [100, 100, 100]).reference.tolist() == [2]


def test_hits_that_are_no_anchors_do_not_chain() -> None:
    strokes = _strokes([0, 15, 30], anchor=[True, False, True])
    assert strokes.of_hit.tolist() == [0, -1, 1]


def test_hits_out_of_order_are_put_in_order() -> None:
    strokes = _strokes([500, 0, 505])
    assert strokes.of_hit.tolist() == [1, 0, 1]
    assert strokes.reference.tolist() == [1, 0]


@pytest.mark.parametrize("anchor", [[False, False], []])
def test_no_anchors(anchor: list[bool]) -> None:
    strokes = find_strokes(
        np.zeros(len(anchor)),
        np.zeros(len(anchor)),
        _hits(np.ones(len(anchor), np.int64)),
        np.array(anchor, np.bool_),
        20,
    )
    assert len(strokes) == 0
    assert strokes.of_hit.tolist() == [-1] * len(anchor)


def test_hits_at_one_tick_are_one_stroke_even_with_together_zero() -> None:
    assert len(_strokes([100, 100, 100.5], together=0)) == 2
