"""The guard and the overlap of knots, which look at what is crowded only, against plain loops."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from evenhand.carry.limb_maps import _SAME, _apart
from evenhand.carry.squeeze import _settle, guard

_SHIFTS = st.lists(
    st.tuples(st.floats(1, 200), st.floats(-150, 150), st.floats(0, 10)), min_size=2, max_size=30
)


@given(_SHIFTS)
def test_the_guard_settles_as_two_whole_sweeps_do(rows: list[tuple[float, float, float]]) -> None:
    gaps, shift, length = (np.array(column) for column in zip(*rows, strict=True))
    first = np.cumsum(gaps) + np.append(0.0, np.cumsum(length)[:-1])
    last = first + length
    shifts, between = shift.tolist(), (first[1:] - last[:-1]).tolist()
    for pair in (*range(len(between)), *reversed(range(len(between)))):
        shifts[pair], shifts[pair + 1] = _settle(shifts[pair], shifts[pair + 1], between[pair])
    settled, reduced = guard(first, last, shift)
    assert settled.tolist() == shifts
    assert (reduced == (np.abs(settled - shift) > 1e-9)).all()
    # What it is for: no gap below half, none beyond twice.
    then = np.diff(settled) + between
    assert (then >= 0.5 * np.array(between) - 1e-6).all()
    assert (then <= 2 * np.array(between) + 1e-6).all()


@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(0, 6), st.booleans()), max_size=25).map(
        sorted
    )
)
def test_knots_that_overlap_are_told_as_one_by_one(rows: list[tuple[int, int, bool]]) -> None:
    first = np.array([one for one, _, _ in rows], np.float64)
    last = first + np.array([long for _, long, _ in rows], np.float64)
    stroke = np.array([yes for _, _, yes in rows], np.bool_)
    wanted = np.ones(len(rows), np.bool_)
    end, holder = -np.inf, -1
    for at in range(len(rows)):
        if first[at] > end + _SAME:
            end, holder = last[at], at
        elif stroke[at] and not stroke[holder]:
            wanted[holder] = False
            end, holder = last[at], at
        else:
            wanted[at] = False
    assert _apart(first, last, stroke).tolist() == wanted.tolist()
