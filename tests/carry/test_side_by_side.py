"""Rows of strokes side by side, parted by infinite gaps, are settled as if each were alone."""

import numpy as np
import pytest

from evenhand.carry.squeeze import guard, settle


@pytest.mark.parametrize("seed", range(40))
def test_no_row_reaches_into_another(seed: int) -> None:
    random = np.random.default_rng(seed)
    rows = []
    for _ in range(int(random.integers(1, 6))):
        first = np.unique(random.integers(0, 3000, int(random.integers(1, 12)))).astype(np.float64)
        last = first + random.uniform(0, 1, len(first))
        rows.append((first, last, random.normal(0, 80, len(first))))
    gaps = [np.append(first[1:] - last[:-1], np.inf) for first, last, _ in rows]
    settled, reduced = settle(
        np.concatenate(gaps)[:-1], np.concatenate([shift for *_, shift in rows])
    )
    alone = [guard(*row) for row in rows]
    assert settled.tolist() == np.concatenate([shift for shift, _ in alone]).tolist()
    assert reduced.tolist() == np.concatenate([which for _, which in alone]).tolist()
