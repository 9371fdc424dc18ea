"""Hits that run away steadily from the lines of their file."""

import numpy as np
import pytest
from tests.pulse.invented import groove

from evenhand.pulse.away import Away, find_away
from evenhand.pulse.recurrence import Onsets


def away(onsets: Onsets, filed: float, bar: float = 4.0) -> Away | None:
    beat = onsets.s * filed / 60
    return find_away(beat, beat % bar, onsets.weight, 60_000 / filed)


@pytest.mark.parametrize("rate", [-0.01, -0.002, 0.0005, 0.002, 0.0077])
def test_the_rate_within_its_doubt(rate: float) -> None:
    """At 96 bpm 64 bars take 160 s: 0.05 % are 80 ms, 0.2 % 320."""
    onsets = groove(64, 96, spread_ms=15)
    found = away(onsets, 96 / (1 + rate))
    assert found is not None
    assert found.rate == pytest.approx(rate, abs=found.doubt)
    assert found.doubt == pytest.approx(35 / 160_000, rel=0.02)
    assert found.ms == pytest.approx(-rate * 160_000, abs=40)


def test_the_bar_line_may_fall_between_quarters() -> None:
    """Bars of five eighths: places begin anew at each."""
    onsets = groove(64, 96, spread_ms=10)
    found = away(onsets, 96.192, bar=2.5)
    assert found is not None
    assert found.rate == pytest.approx(-0.002, abs=found.doubt)


@pytest.mark.parametrize("seed", range(5))
def test_who_plays_to_a_click_does_not_run_away(seed: int) -> None:
    """Swaying by 25 ms over 20 bars, leaning by 15 ms more towards the end."""
    onsets = groove(64, 96, spread_ms=15, seed=seed)
    turn = 2 * np.pi * onsets.s / 50 + seed
    swayed = onsets.s + 0.025 * np.sin(turn) + 0.015 * onsets.s / 160
    assert away(onsets.at(swayed), 96) is None


def test_strewn_or_few_hits_don_t() -> None:
    random = np.random.default_rng(2)
    onsets = groove(64, 96)
    for length in (10, 40, 160):
        strewn = np.sort(random.uniform(0, length, len(onsets)))
        assert away(onsets.at(strewn), 96) is None
    assert away(groove(64, 96).where(np.arange(len(onsets)) < 31), 90) is None
    # Another pulse altogether is not a rate.
    assert away(groove(64, 100, spread_ms=15), 120) is None


def test_blocks_that_agree_by_chance_don_t_gather() -> None:
    """Eighths of 31/48 of the file's quarter, to the tick: blocks of eight quarters fall alike."""
    beat = np.arange(256) * 31 / 48
    assert find_away(beat, beat % 4, np.ones(len(beat)), 500.0) is None
