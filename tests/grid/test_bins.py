"""Places are folded into bins of a quarter as `np.histogram` does it."""

import numpy as np

from evenhand.grid.choice import _BINS, _folded


def test_bins_are_those_of_numpy() -> None:
    random = np.random.default_rng(4)
    edges = np.linspace(-2.0, 5.0, 7 * _BINS + 1)
    place = np.concatenate([edges, np.nextafter(edges, 9), np.nextafter(edges, -9), [-1e-20]])
    place = np.concatenate([place, random.uniform(-3, 90, 5000)])
    expected, _ = np.histogram(place % 1.0, bins=_BINS, range=(0.0, 1.0))
    assert _folded(place).tolist() == expected.tolist()
