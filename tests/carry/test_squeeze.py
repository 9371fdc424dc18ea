"""The squeeze guard, with worked numbers and as a property."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.carry.squeeze import guard


def _guard(places: list[float], shifts: list[float]) -> tuple[list[float], list[bool]]:
    at = np.array(places, np.float64)
    shift, reduced = guard(at, at, np.array(shifts, np.float64))
    return shift.tolist(), reduced.tolist()


@pytest.mark.parametrize(
    ("places", "shifts", "settled"),
    [
        ([0, 100], [0, -50], [0, -50]),  # exactly half
        ([0, 100], [0, -60], [0, -50]),  # the larger is reduced
        ([0, 100], [60, 0], [50, 0]),
        ([0, 100], [0, 100], [0, 100]),  # exactly twice
        ([0, 100], [0, 110], [0, 100]),
        ([0, 100], [-110, 0], [-100, 0]),
        ([0, 100], [80, 20], [70, 20]),  # same way: the larger
        ([0, 100], [-20, -80], [-20, -70]),
        ([0, 100], [40, -40], [25, -25]),  # equal: both
        ([0, 100], [60, -10], [40, -10]),  # against each other: the larger first
        ([0, 100], [60, -30], [25, -25]),  # and then both
        ([0, 100], [-80, 60], [-50, 50]),  # apart
        # In a chain: the third is limited by the second, the second by the first.
        ([0, 10, 20], [0, -20, -40], [0, -5, -10]),
        # Backwards: the first and second are limited by the third.
        ([0, 10, 20], [40, 20, 0], [10, 5, 0]),
        # Going backwards, the third makes the second give way, and that the first.
        ([0, 10, 20, 40], [34, 30, 26, 0], [20, 15, 10, 0]),
    ],
)
def test_worked(places: list[float], shifts: list[float], settled: list[float]) -> None:
    result, reduced = _guard(places, shifts)
    assert result == pytest.approx(settled)
    changed = [abs(one - other) > 1e-9 for one, other in zip(shifts, settled, strict=True)]
    assert reduced == changed


_CHAINS = st.lists(
    st.tuples(st.integers(1, 60), st.integers(0, 15), st.integers(-80, 80)), max_size=25
)


@given(_CHAINS)
def test_every_gap_ends_between_half_and_twice(chain: list[tuple[int, int, int]]) -> None:
    gaps, widths, shifts = np.array(chain, np.float64).reshape(-1, 3).T
    first = np.cumsum(gaps) + np.concatenate([[0.0], np.cumsum(widths)])[: len(gaps)]
    last = first + widths
    settled, reduced = guard(first, last, shifts)
    old = first[1:] - last[:-1]
    new = old + np.diff(settled)
    assert (new >= old / 2 - 1e-6).all()
    assert (new <= old * 2 + 1e-6).all()
    # Never increased, never turned around, and only marked where reduced.
    assert (np.abs(settled) <= np.abs(shifts) + 1e-9).all()
    assert (settled * shifts >= 0).all()
    assert (settled[~reduced] == shifts[~reduced]).all()


@given(_CHAINS.filter(bool), st.data())
def test_just_enough(chain: list[tuple[int, int, int]], data: st.DataObject) -> None:
    """A pair on its own is reduced to exactly its limit, no further."""
    gap, _, one = data.draw(st.sampled_from(chain))
    other = data.draw(st.integers(-80, 80))
    (left, right), reduced = _guard([0, gap], [one, other])
    if any(reduced):
        assert gap + right - left == pytest.approx(gap / 2 if other < one else 2 * gap)
