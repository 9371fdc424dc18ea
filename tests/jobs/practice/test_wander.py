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
from tests.evaluation.score_wander import noise, of_nolds
from tests.lengths import LONG

from evenhand import Recipe, assess, read_take
from evenhand.jobs.practice.beats import find_pulse
from evenhand.jobs.practice.wander import FEWEST, exponent, fluctuations, window_sizes


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
    found = [exponent(noise(color, count, seed)) for seed in range(40)]
    assert np.mean(found) == pytest.approx(wanted, abs=slack)


def test_what_comes_back_has_a_small_exponent() -> None:
    found = [exponent(np.diff(noise("white", 512, seed))) for seed in range(20)]
    assert np.mean(found) < 0.2


@pytest.mark.parametrize("color", ["white", "pink", "brown"])
def test_fluctuations_are_those_of_mfdfa(color: str) -> None:
    for count in (64, 100, 1000, 1017):
        series = noise(color, count, count)
        sizes = window_sizes(count)
        _, theirs = MFDFA(series, lag=sizes, q=2, order=1)
        assert fluctuations(series, sizes) == pytest.approx(theirs.ravel(), rel=1e-9)


@pytest.mark.parametrize("color", ["white", "pink", "brown"])
def test_fluctuations_are_those_of_nolds(color: str) -> None:
    # Sizes that divide the series: nolds has windows from one end only.
    series, sizes = noise(color, 2048, 5), [4, 8, 16, 32, 64, 128, 256, 512]
    _, (_, theirs, _) = nolds.dfa(
        series, nvals=sizes, overlap=False, order=1, fit_exp="poly", debug_data=True
    )
    assert fluctuations(series, sizes) == pytest.approx(np.exp(theirs), rel=1e-9)


# With other sizes the rest at the end, which nolds leaves out, makes a difference.
@pytest.mark.parametrize(("count", "mean", "most"), [(256, 0.03, 0.1), (2048, 0.01, 0.03)])
@pytest.mark.parametrize("color", ["white", "pink", "brown"])
def test_exponent_is_that_of_nolds(color: str, count: int, mean: float, most: float) -> None:
    series = [noise(color, count, seed) for seed in range(8 if LONG or count < 1000 else 2)]
    apart = [of_nolds(one) - exponent(one) for one in series]
    assert abs(np.mean(apart)) < mean
    assert np.abs(apart).max() < most


def test_people(takes: list[Path]) -> None:
    """Beats that people played: as two libraries find, and in the range that is known.

    Deviations from a metronome are correlated over long ranges, with an exponent between 0.5 and
    1 (Hennig et al. 2011, PLOS ONE 6(10) e26457; Räsänen et al. 2015, PLOS ONE 10(6) e0127902;
    from memory).
    """
    found, apart = [], []
    for path in takes[::4]:
        view = assess(read_take(path), Recipe())
        off = find_pulse(view.ground, view.measured).off
        if len(off) < 128:
            continue
        found.append(exponent(off))
        for series in (off, np.diff(off)):
            sizes = window_sizes(len(series))
            _, theirs = MFDFA(series, lag=sizes, q=2, order=1)
            assert fluctuations(series, sizes) == pytest.approx(theirs.ravel(), rel=1e-9)
            apart.append(of_nolds(series) - exponent(series))
    assert len(found) >= 8
    assert abs(np.median(apart)) < 0.02
    assert np.abs(apart).max() < 0.1
    assert 0.5 < np.median(found) < 1.0


def test_too_little_to_tell() -> None:
    assert math.isnan(exponent(noise("white", FEWEST - 1, 1)))
    assert not math.isnan(exponent(noise("white", FEWEST, 1)))
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
    series = noise("pink", count, seed)
    series /= series.std()
    plain = exponent(series)
    assert exponent(series * factor) == pytest.approx(plain, abs=1e-6)
    assert exponent(series + level) == pytest.approx(plain, abs=1e-6)
    assert exponent(-series) == pytest.approx(plain, abs=1e-9)
