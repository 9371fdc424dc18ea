"""The shape of a push, the score of a slip, the plainest reading of the usual: worked numbers."""

import numpy as np
import pytest

from evenhand.habit import slips
from evenhand.habit.pushes import Pushes, falls, rises
from evenhand.habit.slips import Marks
from evenhand.habit.usual import plainly_usual


def test_a_push_comes_and_goes_evenly() -> None:
    place = np.array([3.0, 3.5, 3.75, 4.0, 5.0])
    assert rises(place, 4.0, 0.5).tolist() == [0, 0, 0.5, 1, 1]
    assert rises(place, 4.0, 0.0).tolist() == [0, 0, 0, 1, 1]
    assert falls(place, 3.5, 0.5).tolist() == [1, 1, 0.5, 0, 0]
    assert falls(place, 3.5, 0.0).tolist() == [1, 0, 0, 0, 0]


def _two() -> Pushes:
    return Pushes(
        first=np.array([3, 9]),
        last=np.array([4, 9]),
        ms=np.array([20.0, -30.0]),
        begin=np.array([3.0, 9.0]),
        stop=np.array([5.0, 10.0]),
        coming=np.array([0.5, 0.0]),
        going=np.array([0.0, 1.0]),
        score=np.array([1.0, 0.0]),
    )


def test_each_place_has_the_push_that_it_lies_in() -> None:
    place = np.array([2.0, 2.5, 2.75, 3.0, 4.99, 5.0, 8.9, 9.0, 10.0, 10.5, 11.0])
    push, ms = _two().at(place)
    assert push.tolist() == [-1, -1, 0, 0, 0, -1, -1, 1, 1, 1, -1]
    assert ms.tolist() == [0, 0, 10, 20, 20, 0, 0, -30, -30, -15, 0]
    (only,) = _two().only(np.array([1])).ms.tolist()
    assert only == -30
    none = _two().only(np.zeros(0, np.int64))
    push, ms = none.at(place)
    assert (push.tolist(), ms.tolist()) == ([-1] * 11, [0] * 11)


def test_a_slip_is_scored_by_the_marks_of_its_side() -> None:
    dice = np.random.default_rng(2)
    side = dice.normal(0, 1, (2, 3, len(slips.WEIGHTS)))
    off, spread = np.array([-20.0, 20.0, 0.0]), np.array([5.0, 5.0, 5.0])
    score = Marks(off, spread, side).score()
    # Early strokes by the first row, late ones (and those on time) by the second.
    mixed = np.stack([side[0, 0], side[1, 1], side[1, 2]])
    assert Marks(np.abs(off), spread, np.stack([mixed, mixed])).score() == pytest.approx(score)
    swapped = Marks(off, spread, side[::-1]).score()
    assert (np.abs(swapped - score) > 1e-6).all()


def test_a_stroke_on_its_bound_has_the_score_of_the_limit() -> None:
    dice = np.random.default_rng(4)
    side = dice.normal(0, 0.3, (2, 40, len(slips.WEIGHTS)))
    spread = dice.uniform(3, 30, 40)
    marks = Marks(np.zeros(40), spread, side)
    for row, sign in ((0, -1.0), (1, 1.0)):
        bound = marks.bounds(0.5)[row]
        reached = np.isfinite(bound) & (bound > 0)
        score = Marks(sign * np.where(reached, bound, 1.0), spread, side).score()
        assert np.count_nonzero(reached) > 10
        assert score[reached] == pytest.approx(0.5, abs=1e-9)
        # What can't stand out does not, however far; what always does, does at once.
        far = Marks(np.full(40, sign * 1e6), spread, side).score()
        assert (far[np.isinf(bound)] <= 0.5).all()
        assert (
            Marks(np.full(40, sign * 1e-9), spread, side).score()[bound == 0] >= 0.5 - 1e-6
        ).all()


def test_the_plainest_reading_of_the_usual() -> None:
    # Piece 0: four hits at one place, two at another; piece 1: three hits, too few to go by.
    piece = np.array([0, 0, 0, 0, 0, 0, 1, 1, 1])
    within = np.array([0.0, 0, 0, 0, 0.5, 0.5, 0.25, 0.25, 0.25])
    off = np.array([10.0, 12, 14, 16, -20, -22, 3, 4, 5])
    usual = plainly_usual(piece, within, off).tolist()
    # Its place; its piece (the middle of six is 11); the take (the middle of nine is 5).
    assert usual == [13, 13, 13, 13, 11, 11, 5, 5, 5]
    assert plainly_usual(piece[:0], within[:0], off[:0]).tolist() == []
