"""Maps of limbs: which knots are left where they overlap, and what lies around a place."""

import numpy as np

from evenhand.carry.limb_knots import _around
from evenhand.carry.limb_maps import _apart
from evenhand.carry.shift_map import ShiftMap


def _kept(*knots: tuple[float, float, int]) -> list[bool]:
    first, last, kind = (np.array(one) for one in zip(*knots, strict=True))
    return _apart(first, last, kind).tolist()


def test_what_counts_more_stays_where_knots_overlap() -> None:
    assert _kept((0, 4, 1), (5, 9, 1), (20, 20, 1)) == [True, True, True]
    # The second lies in the first: of one kind the first stays, otherwise the one of more weight.
    assert _kept((0, 10, 1), (5, 7, 1), (20, 20, 1)) == [True, False, True]
    assert _kept((0, 10, 1), (5, 7, 2), (20, 20, 1)) == [False, True, True]
    # The third begins behind the second, which has taken the place of the first.
    assert _kept((0, 10, 1), (5, 7, 2), (8, 12, 1)) == [False, True, True]
    assert _kept((0, 10, 2), (5, 7, 1), (8, 12, 1)) == [True, False, False]
    # Ends that meet overlap.
    assert _kept((0, 5, 1), (5, 9, 1)) == [True, False]


def test_the_knots_around_a_place() -> None:
    knots = ShiftMap(np.array([10.0, 20.0, 20.0, 30.0]), np.zeros(4))
    assert _around(knots, 20.0) == (10.0, 30.0)
    assert _around(knots, 15.0) == (10.0, 20.0)
    assert _around(knots, 25.0) == (20.0, 30.0)
    assert _around(knots, 10.0) == (-np.inf, 20.0)
    assert _around(knots, 35.0) == (30.0, np.inf)
