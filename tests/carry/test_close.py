"""What is too close to be cut apart: worked numbers."""

import numpy as np
import pytest

from evenhand.carry.close import Room, Spans, join_close

#: 3 ahead, 7 behind, a fade of 2: free is the gap less 10.
_ROOM = Room(3.0, 7.0, 2.0)


@pytest.mark.parametrize(
    ("gap", "change", "fits"),
    [
        (0.0, 0.0, True),  # nothing changes: however near
        (17.0, -5.0, True),  # 7 free, 5 lost, 2 to fade: just so
        (16.9, -5.0, False),
        (14.0, 5.0, True),  # gained in turns: two fades are free
        (13.9, 5.0, False),
        (13.9, 1.0, True),  # 3.9 free: 1 and a fade
        (13.0, 1.0, True),
        (12.9, 1.0, False),
        (13.0, -1.0, True),
        (12.9, -1.0, False),
    ],
)
def test_what_fits_between_two_attacks(gap: float, change: float, fits: bool) -> None:
    assert _ROOM.fits(np.array([gap]), np.array([change])).tolist() == [fits]


def _spans(*rows: tuple[float, float, float]) -> Spans:
    at, shift, weight = (np.array(one) for one in zip(*rows, strict=True))
    return Spans(at, at, shift, weight)


def test_the_heaviest_leads_and_of_equals_the_first() -> None:
    spans = _spans((0, 1, 50), (5, 2, 90), (9, 3, 90), (100, 4, 10), (104, 5, 20))
    blocks = spans.blocks(np.array([0, 3]))
    assert (blocks.first.tolist(), blocks.last.tolist()) == ([0, 100], [9, 104])
    assert (blocks.shift.tolist(), blocks.weight.tolist()) == ([2, 5], [90, 20])
    assert len(blocks) == 2


def test_blocks_grow_until_all_is_far_enough_apart() -> None:
    # 4 are too few: the first two are one. Led by the second (3), the third (-1) just fits: 6 free,
    # 4 lost, 2 to fade. Led by the first (9) it does not, and all are one.
    assert join_close(_spans((0, 9, 50), (4, 3, 90), (20, -1, 40)), _ROOM).tolist() == [0, 2]
    assert join_close(_spans((0, 9, 90), (4, 3, 50), (20, -1, 40)), _ROOM).tolist() == [0]
    # Far apart, or alike, they stay alone.
    assert join_close(_spans((0, 0, 90), (40, 3, 50)), _ROOM).tolist() == [0, 1]
    assert join_close(_spans((0, 3, 90), (4, 3, 50)), _ROOM).tolist() == [0, 1]
