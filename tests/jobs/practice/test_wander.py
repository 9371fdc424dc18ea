"""The exponent of a fluctuation: by hand, on known noises, and against two libraries.

What an exponent should be for white, 1/f and summed noise: Peng et al. 1994 (from memory).
"""

import math
from pathlib import Path

import nolds
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from MFDFA import MFDFA

from evenhand import Recipe, assess, read_take
from evenhand.jobs.practice.pulse import find_pulse
from evenhand.jobs.practice.wander import FEWEST, exponent, fluctuations, window_sizes


def _noise(color: str, count: int, seed: int) -> np.ndarray:
    dice = np.random.default_rng(seed)
    if color != "pink":
        white = dice.normal(size=count)
        return np.cumsum(white) if color == "brown" else white
    # 1/f noise: amplitudes that fall with the square root of the frequency, phases by chance.
    frequency = np.fft.rfftfreq(4 * count)
    size = np.concatenate([[0.0], frequency[1:] ** -0.5])
    turns = np.exp(2j * np.pi * dice.random(len(frequency)))
    return np.fft.irfft(size * turns, 4 * count)[:count]


def test_fluctuation_by_hand() -> None:
    # The mean is 0, so the profile is 1, 0, 1, 0. In windows of four the straight line has the
    # slope -0.2 and leaves 0.2, -0.6, 0.6, -0.2: a mean square of 0.2.
    assert fluctuations([1, -1, 1, -1], [4])[0] == pytest.approx(math.sqrt(0.2))


def test_windows_come_from_both_ends() -> None:
    # Profile of a mean of 0: 3, 0, 0, 0. Windows of three from the start: 3, 0, 0; from the end:
    # 0, 0, 0. The line through 3, 0, 0 falls by 1.5 and leaves 0.5, -1, 0.5.
    assert fluctuations([3, -3, 0, 0], [3])[0] == pytest.approx(math.sqrt(1.5 / 6))


def test_window_sizes() -> None:
    sizes = window_sizes(256)
    assert sizes[0] == 4
    assert sizes[-1] == 64
    assert (np.diff(sizes) > 0).all()
    assert window_sizes(15).tolist() == []
    assert window_sizes(16).tolist() == [4]


# Mean of 40 series each; the scatter of one is given in docs/practice.md.
@pytest.mark.parametrize(("count", "slack"), [(FEWEST, 0.1), (256, 0.05), (2048, 0.03)])
@pytest.mark.parametrize(("color", "wanted"), [("white", 0.5), ("pink", 1.0), ("brown", 1.5)])
def test_exponent_of_known_noises(color: str, wanted: float, count: int, slack: float) -> None:
    found = [exponent(_noise(color, count, seed)) for seed in range(40)]
    assert np.mean(found) == pytest.approx(wanted, abs=slack)


def test_what_comes_back_has_a_small_exponent() -> None:
    found = [exponent(np.diff(_noise("white", 512, seed))) for seed in range(20)]
    assert np.mean(found) < 0.2


@pytest.mark.parametrize("color", ["white", "pink", "brown"])
def test_fluctuations_are_those_of_mfdfa(color: str) -> None:
    for count in (64, 100, 1000, 1017):
        series = _noise(color, count, count)
        sizes = window_sizes(count)
        _, theirs = MFDFA(series, lag=sizes, q=2, order=1)
        assert fluctuations(series, sizes) == pytest.approx(theirs.ravel(), rel=1e-9)


# nolds takes the mean of the windows' roots, where ours is the root of their mean square: that
# pulls its small windows down. The difference shrinks as the series gets longer.
def _nolds(series: np.ndarray) -> float:
    sizes = window_sizes(len(series))
    return float(nolds.dfa(series, nvals=sizes, overlap=False, order=1, fit_exp="poly"))


@pytest.mark.parametrize(("count", "mean", "most"), [(256, 0.05, 0.12), (2048, 0.03, 0.05)])
@pytest.mark.parametrize("color", ["white", "pink", "brown"])
def test_exponent_is_that_of_nolds(color: str, count: int, mean: float, most: float) -> None:
    noises = [_noise(color, count, seed) for seed in range(8)]
    apart = [_nolds(noise) - exponent(noise) for noise in noises]
    assert abs(np.mean(apart)) < mean
    assert np.abs(apart).max() < most


def test_people(takes: list[Path]) -> None:
    """Beats that people played: as two libraries find, and in the range that is known.

    Deviations from a metronome are correlated over long ranges, with an exponent between 0.5 and
    1 (Hennig et al. 2011, PLOS ONE 6(10) e26457; Räsänen et al. 2015, PLOS ONE 10(6) e0127902;
    from memory).
    """
    found, apart, apart_alike = [], [], []
    for path in takes[::4]:
        view = assess(read_take(path), Recipe())
        off = find_pulse(view.ground, view.measured).off
        if len(off) < 128:
            continue
        found.append(exponent(off))
        for series in (off, np.diff(off)):
            sizes = window_sizes(len(series))
            _, roots = MFDFA(series, lag=sizes, q=[1, 2], order=1)
            assert fluctuations(series, sizes) == pytest.approx(roots[:, 1], rel=1e-9)
            theirs = _nolds(series)
            apart.append(theirs - exponent(series))
            # With the mean of roots (q = 1), as nolds takes it, little is left between them.
            alike = np.polyfit(np.log(sizes), np.log(roots[:, 0]), 1)[0]
            apart_alike.append(theirs - alike)
    assert len(found) >= 8
    assert np.median(np.abs(apart)) < 0.06
    assert np.median(np.abs(apart_alike)) < 0.02
    assert 0.5 < np.median(found) < 1.0


def test_too_little_to_tell() -> None:
    assert math.isnan(exponent(_noise("white", FEWEST - 1, 1)))
    assert not math.isnan(exponent(_noise("white", FEWEST, 1)))
    assert math.isnan(exponent(np.zeros(200)))
    assert math.isnan(exponent(np.full(200, 500.0)))
    assert math.isnan(exponent([]))


@given(
    seed=st.integers(0, 1000),
    factor=st.floats(1e-3, 1e3),
    level=st.floats(-1e3, 1e3),
    count=st.integers(FEWEST, 300),
)
def test_unit_level_and_direction_do_not_matter(
    seed: int, factor: float, level: float, count: int
) -> None:
    noise = _noise("pink", count, seed)
    noise /= noise.std()
    plain = exponent(noise)
    assert exponent(noise * factor) == pytest.approx(plain, abs=1e-6)
    assert exponent(noise + level) == pytest.approx(plain, abs=1e-6)
    assert exponent(-noise) == pytest.approx(plain, abs=1e-9)
