"""What is faster than NumPy says the same as NumPy."""

import numpy as np
import pytest

from evenhand.columns import (
    among,
    clipped,
    differences,
    greatest,
    indices,
    median,
    numbered,
    percentile,
    picked,
    ranked,
    runs,
)


@pytest.mark.parametrize("seed", range(40))
def test_short_cuts_say_what_numpy_says(seed: int) -> None:
    random = np.random.default_rng(seed)
    count = int(random.choice([random.integers(1, 60), random.integers(180, 600)]))
    whole = random.integers(-50, 50, count) * int(random.choice([1, 1000, 10**12]))
    values = random.normal(0, 20, count).round(int(random.integers(0, 4)))
    found, number = numbered(whole)
    expected, inverse = np.unique(whole, return_inverse=True)
    assert found.tolist() == expected.tolist()
    assert number.tolist() == inverse.tolist()
    for some in (whole, values):
        found, number = ranked(some)
        expected, inverse = np.unique(some, return_inverse=True)
        assert (found.tolist(), number.tolist()) == (expected.tolist(), inverse.tolist())
    assert median(values) == np.median(values)
    assert median(whole) == np.median(whole)
    for percent in (0.0, 12.5, 75.0, 90.0, 100.0):
        assert percentile(values, percent) == np.percentile(values, percent)
        assert percentile(whole, percent) == np.percentile(whole, percent)
    assert indices(values > 0).tolist() == np.flatnonzero(values > 0).tolist()
    assert clipped(values, -5.0, 7.0).tolist() == np.clip(values, -5.0, 7.0).tolist()
    for some, before in ((whole, -1), (values, -np.inf), (values[:0], 0.0)):
        assert differences(some).tolist() == np.diff(some).tolist()
        assert differences(some, before).tolist() == np.diff(some, prepend=before).tolist()
    words = np.array(["kick", "snare", "hat", ""])[random.integers(0, 4, count)]
    for few in ((), ("hat",), ("", "kick", "ride")):
        assert among(words, few).tolist() == np.isin(words, few).tolist()
    table, which = random.normal(0, 20, (count, 4)), random.integers(0, 4, count)
    assert picked(table, which).tolist() == table[np.arange(count), which].tolist()
    assert greatest(table).tolist() == table.max(axis=1).tolist()
    for empty in (np.zeros((0, 4)), np.zeros((4, 0)).T):
        assert len(greatest(empty)) == len(picked(empty, np.zeros(0, np.int64))) == 0


def test_runs_reach_both_ends() -> None:
    rows = np.array([True, True, False, True, False, False, True])
    assert runs(rows).tolist() == [[0, 2], [3, 4], [6, 7]]
    assert runs(~rows).tolist() == [[2, 3], [4, 6]]
    assert runs(rows[:0]).tolist() == []


def test_numbers_keep_the_shape_of_a_table() -> None:
    table = np.array([[5, 3], [3, 9]])
    assert numbered(table)[1].tolist() == [[1, 0], [0, 2]]
    assert [part.tolist() for part in numbered(np.zeros(0, np.int64))] == [[], []]
