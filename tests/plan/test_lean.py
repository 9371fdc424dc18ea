"""Lean: medians, shrinkage by worked numbers, drift."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.plan.lean import CAP_MS, find_lean, follow_lean

WEIGHT = np.pi / 2 * 400 / 121  # of the wider group, in strokes (see the module)


def _lean(
    deviation: list[float], section: list[int] | None = None, piece: list[str] | None = None
) -> list[float]:
    count = len(deviation)
    return find_lean(
        np.array(deviation),
        np.ones(count, np.bool_),
        np.array(section or [0] * count),
        np.array(piece or ["kick"] * count),
    ).tolist()


def test_many_strokes_speak_for_themselves() -> None:
    assert _lean([-15.0] * 2000) == pytest.approx([-15] * 2000, abs=0.1)


def test_few_strokes_are_drawn_towards_the_line() -> None:
    # Take, section and piece are one group here: each draws the median of 10 in the same way.
    take = 4 * 10 / (4 + WEIGHT)
    section = (4 * 10 + WEIGHT * take) / (4 + WEIGHT)
    piece = (4 * 10 + WEIGHT * section) / (4 + WEIGHT)
    assert _lean([10.0] * 4) == pytest.approx([piece] * 4)
    assert piece < 10


def test_single_strokes_do_not_turn_it() -> None:
    calm = _lean([-10.0] * 200)[0]
    assert _lean([-10.0] * 200 + [45.0] * 9)[0] == pytest.approx(calm, abs=0.2)


def test_sections_and_pieces_have_their_own() -> None:
    deviation = [-15.0] * 300 + [0.0] * 300 + [8.0] * 300
    lean = _lean(deviation, [0] * 300 + [1] * 600, ["kick"] * 600 + ["snare"] * 300)
    assert lean[0] == pytest.approx(-15, abs=0.5)
    assert lean[400] == pytest.approx(0, abs=0.5)
    assert lean[700] == pytest.approx(8, abs=0.5)


def test_it_is_capped() -> None:
    assert _lean([-60.0] * 500) == [-CAP_MS] * 500


def test_strokes_without_a_line_tell_nothing_but_get_a_lean() -> None:
    deviation, told = np.array([-10.0] * 300 + [99.0]), np.array([True] * 300 + [False])
    section, piece = np.zeros(301, np.int64), np.array(["kick"] * 301)
    lean = find_lean(deviation, told, section, piece)
    assert lean[300] == lean[0] == pytest.approx(-10, abs=0.3)
    assert find_lean(deviation, ~told & False, section, piece).tolist() == [0] * 301


def test_drift_is_followed() -> None:
    # 16 bars from 16 ms ahead to 0, four strokes a bar, with scatter and one slip of 60 ms.
    bar = np.arange(64) / 4
    drift = -16 + bar
    deviation = drift + np.random.default_rng(3).normal(0, 4, 64)
    deviation[30] += 60
    told, section = np.ones(64, np.bool_), np.zeros(64, np.int64)
    constant = find_lean(deviation, told, section, np.array(["kick"] * 64))
    followed = follow_lean(deviation, told, section, constant, bar, np.full(64, 4.0))
    assert np.abs(followed - drift).mean() < 0.5 * np.abs(constant - drift).mean()
    assert np.abs(followed - drift).max() < 4


def test_drift_is_not_followed_across_a_border_or_unasked() -> None:
    bar = np.arange(200) / 4
    deviation = np.where(bar < 25, -12.0, 6.0)
    told, section = np.ones(200, np.bool_), (bar >= 25).astype(np.int64)
    constant = find_lean(deviation, told, section, np.array(["kick"] * 200))
    off = follow_lean(deviation, told, section, constant, bar, np.zeros(200))
    assert off.tolist() == constant.tolist()
    followed = follow_lean(deviation, told, section, constant, bar, np.full(200, 8.0))
    assert followed == pytest.approx(deviation, abs=1.5)


_STROKES = st.lists(
    st.tuples(st.floats(-80, 80), st.booleans(), st.integers(0, 2), st.sampled_from("ab")),
    min_size=1,
    max_size=40,
)
_Strokes = list[tuple[float, bool, int, str]]


def _of(strokes: _Strokes, sign: float = 1.0) -> np.ndarray:
    deviation, told, section, piece = (np.array(one) for one in zip(*strokes, strict=True))
    return find_lean(sign * deviation, told, section, piece)


@given(_STROKES)
def test_it_lies_among_what_was_played_and_the_line(strokes: _Strokes) -> None:
    lean = _of(strokes)
    told = [0.0, *(off for off, counts, _, _ in strokes if counts)]
    assert lean.max() <= min(max(told), CAP_MS) + 1e-9
    assert lean.min() >= max(min(told), -CAP_MS) - 1e-9
    # One for each piece of a section; ahead is behind in a mirror.
    kinds = {(section, piece) for _, _, section, piece in strokes}
    apart = {(*stroke[2:], one) for stroke, one in zip(strokes, lean.tolist(), strict=True)}
    assert len(apart) == len(kinds)
    assert _of(strokes, -1.0) == pytest.approx(-lean, abs=1e-9)


@given(_STROKES, st.randoms(use_true_random=False))
def test_the_order_of_strokes_does_not_matter(strokes: _Strokes, chance: random.Random) -> None:
    order = list(range(len(strokes)))
    chance.shuffle(order)
    assert _of([strokes[one] for one in order]) == pytest.approx(_of(strokes)[order], abs=1e-9)


@given(_STROKES, st.floats(0.5, 8))
def test_a_lean_that_drifts_stays_in_its_bounds(strokes: _Strokes, reach: float) -> None:
    deviation, told, section, piece = (np.array(one) for one in zip(*strokes, strict=True))
    section = np.sort(section)
    constant = find_lean(deviation, told, section, piece)
    bar, bars = np.arange(len(strokes)) / 4, np.full(len(strokes), reach)
    one, other = (
        follow_lean(sign * deviation, told, section, sign * constant, bar, bars)
        for sign in (1.0, -1.0)
    )
    assert np.abs(one).max() <= CAP_MS
    assert other == pytest.approx(-one, abs=1e-9)
