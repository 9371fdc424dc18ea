"""Rows of places beside each other: against trying every way, and on what parts rolls."""

from collections import Counter
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.build import CRASH, SNARE, drum_take

from evenhand import Recipe
from evenhand.jobs.pick import ByHand, PickWishes, pick
from evenhand.jobs.pick.in_order import Row, pair_in_order

_WITHIN = 5.0
_ROWS = st.lists(st.tuples(st.integers(0, 30), st.booleans()), max_size=7).map(sorted)


def _row(rows: list[tuple[int, bool]]) -> Row:
    return Row([float(place) for place, _ in rows], [kind for _, kind in rows])


def _gain(one: Row, other: Row, row: int, column: int) -> float:
    gain = _WITHIN - abs(one.places[row] - other.places[column])
    return gain / (1 + (one.kinds[row] != other.kinds[column]))


def _best(one: Row, other: Row) -> float:
    """The most that can be had, by trying every way."""

    @cache
    def best(row: int, column: int) -> float:
        if row == len(one.places) or column == len(other.places):
            return 0.0
        both = max(0.0, _gain(one, other, row, column)) + best(row + 1, column + 1)
        return max(both, best(row + 1, column), best(row, column + 1))

    return best(0, 0)


@given(_ROWS, _ROWS)
def test_nothing_could_lie_nearer(
    some: list[tuple[int, bool]], others: list[tuple[int, bool]]
) -> None:
    one, other = _row(some), _row(others)
    pairs = pair_in_order(one, other, _WITHIN)
    assert all(a < c and b < d for (a, b), (c, d) in pairwise(pairs))
    assert all(abs(one.places[a] - other.places[b]) <= _WITHIN for a, b in pairs)
    got = sum(_gain(one, other, a, b) for a, b in pairs)
    assert got == pytest.approx(_best(one, other))


def test_a_roll_is_paired_stroke_by_stroke() -> None:
    first = [0.0, 2, 4, 6, 8, 10, 12]
    # Each is nearer to the next one of the other row than to its own.
    pairs = pair_in_order(
        Row(first, [False] * 7), Row([one + 1.2 for one in first], [False] * 7), 5
    )
    assert pairs == [(at, at) for at in range(7)]


def _joined(notes: list[list[tuple[int, int, int]]], owners: dict[str, int]) -> Counter[int]:
    takes = [drum_take(one) for one in notes]
    picked = pick(takes, PickWishes(Recipe(sections="none"), by_hand=ByHand(take=owners)))
    return Counter(picked.joined.take.hits().note.tolist())


def _beat(bars: int) -> list[tuple[int, int, int]]:
    return [
        (bar * 1920 + step * 480, 36 if step % 2 == 0 else 42, 100)
        for bar in range(bars)
        for step in range(4)
    ]


@pytest.mark.parametrize("late", [0, 8, 14, 22])
def test_a_roll_across_a_seam_is_whole(late: int) -> None:
    # A roll of strokes 25 ticks apart from half a beat ahead of bar 3 to half a beat into it.
    random = np.random.default_rng(late)
    takes = []
    for by in (0, late, -late // 2):
        roll = [(3600 + at * 25 + int(random.integers(-4, 5)), SNARE, 60) for at in range(20)]
        whole = sorted([*_beat(4), *roll])
        takes.append([(max(tick + by, 0), note, loud) for tick, note, loud in whole])
    for before, after in ((1, 2), (2, 3), (3, 1)):
        got = _joined(takes, {"1": before, "3": after})
        assert got[SNARE] == 20


def test_two_cymbals_at_a_seam_that_change_places_are_there_once() -> None:
    # The seam lies half a sixteenth ahead of bar 3, at tick 3780.
    pairs = [(3774, 3788), (3788, 3775), (3773, 3786)]
    takes = [sorted([*_beat(4), (first, CRASH, 90), (last, 57, 90)]) for first, last in pairs]
    for before, after in ((1, 2), (2, 1), (2, 3), (3, 2), (1, 3)):
        got = _joined(takes, {"1": before, "3": after})
        assert (got[CRASH], got[57]) == (1, 1)
