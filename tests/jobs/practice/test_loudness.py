"""Evenness in loudness by worked numbers."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.jobs.practice.loudness import find_loudness


def test_accents_that_return_are_no_unevenness() -> None:
    velocity = np.tile([100, 60], 8)
    found = find_loudness(velocity, np.zeros(16, np.int64), np.tile([0.0, 0.5], 8))
    assert (found.hits, found.velocity, found.spread) == (16, 80, 0)


def test_spread_around_the_pattern() -> None:
    # On the beat 98 and 102 in turns (4 hits, mean 100), beside it 57, 63, 57, 63 (mean 60):
    # squares 4·4 + 4·9 = 52 over 8 - 2 = 6.
    velocity = np.array([98, 57, 102, 63, 98, 57, 102, 63])
    found = find_loudness(velocity, np.zeros(8, np.int64), np.tile([0.0, 0.5], 4))
    assert found.spread == pytest.approx(math.sqrt(52 / 6))


def test_sections_have_patterns_of_their_own() -> None:
    velocity = np.repeat([50, 110], 6)
    section = np.repeat([0, 1], 6)
    assert find_loudness(velocity, section, np.zeros(12)).spread == 0
    assert find_loudness(velocity, np.zeros(12, np.int64), np.zeros(12)).spread > 30


def test_places_that_are_seldom_struck_do_not_count() -> None:
    velocity = np.array([90, 90, 90, 90, 20, 120, 70])
    beat = np.array([0, 0, 0, 0, 1.5, 1.5, 1.5])
    found = find_loudness(velocity, np.zeros(7, np.int64), beat)
    assert (found.hits, found.velocity, found.spread) == (4, 90, 0)


@pytest.mark.parametrize("count", [0, 3])
def test_too_few(count: int) -> None:
    found = find_loudness(np.full(count, 80), np.zeros(count, np.int64), np.zeros(count))
    assert found.hits == 0
    assert math.isnan(found.spread)


@given(st.lists(st.integers(1, 127), min_size=4, max_size=60))
def test_order_does_not_matter(velocity: list[int]) -> None:
    beat = np.arange(len(velocity)) % 3 / 2
    order = np.random.default_rng(len(velocity)).permutation(len(velocity))
    section = np.zeros(len(velocity), np.int64)
    one = find_loudness(np.array(velocity), section, beat)
    other = find_loudness(np.array(velocity)[order], section, beat[order])
    assert other.spread == pytest.approx(one.spread, nan_ok=True)
