"""Velocities: worked numbers, and that louder stays louder."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand import SettingError
from evenhand.jobs.triggers.per_piece import Dials, parse_dials
from evenhand.jobs.triggers.shape import Shape, match_velocities, shape_velocities

ALL = np.arange(1, 128)
SNARE = np.full(127, "snare")


def test_defaults_change_nothing() -> None:
    assert not Shape().changes
    assert shape_velocities(ALL, SNARE, Shape()).tolist() == ALL.tolist()


def test_floor_ceiling_and_curve() -> None:
    shape = Shape(floor=Dials(20), ceiling=Dials(100), curve=Dials(0.5))
    new = shape_velocities(np.array([1, 64, 127]), SNARE[:3], shape)
    # 20 + 80 × sqrt((64 − 1) / 126) = 20 + 80 × 0.70711 = 76.57
    assert new.tolist() == [20, 77, 100]


def test_pieces_have_their_own() -> None:
    shape = Shape(floor=Dials(1, {"snare": 40}))
    new = shape_velocities(np.array([1, 1]), np.array(["kick", "snare"]), shape)
    assert new.tolist() == [1, 40]


@given(
    st.integers(1, 126).flatmap(lambda low: st.tuples(st.just(low), st.integers(low + 1, 127))),
    st.floats(0.05, 20),
)
def test_louder_stays_louder(limits: tuple[int, int], curve: float) -> None:
    shape = Shape(Dials(limits[0]), Dials(limits[1]), Dials(curve))
    new = shape_velocities(ALL, SNARE, shape)
    assert (np.diff(new) >= 0).all()
    assert (new[0], new[-1]) == limits


@pytest.mark.parametrize("curve", [0.0, -1.0, float("inf"), float("nan")])
def test_a_curve_that_is_not_rising_is_refused(curve: float) -> None:
    with pytest.raises(SettingError, match=r"curve: snare: .* is not rising"):
        Shape(curve=Dials(1, {"snare": curve}))


@pytest.mark.parametrize(("floor", "ceiling"), [(100, 100), (90, 20)])
def test_limits_that_do_not_rise_are_refused(floor: int, ceiling: int) -> None:
    with pytest.raises(SettingError, match="not rising"):
        Shape(floor=Dials(floor), ceiling=Dials(ceiling))
    with pytest.raises(SettingError, match=r"tom 1: .* not rising"):
        Shape(floor=Dials(1, {"tom 1": floor}), ceiling=Dials(127, {"tom 1": ceiling}))


_VELOCITIES = st.lists(st.integers(1, 127), min_size=1, max_size=60)


@given(_VELOCITIES, _VELOCITIES)
def test_matching_keeps_order_and_takes_over_the_spread(
    played: list[int], wanted: list[int]
) -> None:
    velocity = np.array(played)
    piece = np.full(len(played), "snare")
    new = match_velocities(velocity, piece, {"snare": np.array(wanted)})
    order = np.argsort(velocity, kind="stable")
    assert (np.diff(new[order]) >= 0).all()
    assert new.min() >= min(wanted)
    assert new.max() <= max(wanted)
    # Equally loud hits stay equally loud.
    assert len(set(zip(played, new.tolist(), strict=True))) == len(set(played))


@given(_VELOCITIES)
def test_a_take_matched_to_itself_stays_nearly_the_same(played: list[int]) -> None:
    velocity = np.array(played)
    new = match_velocities(velocity, np.full(len(played), "kick"), {"kick": velocity})
    assert np.array_equal(new, velocity)


def test_matching_different_levels() -> None:
    velocity = np.arange(41, 61)
    new = match_velocities(velocity, np.full(20, "kick"), {"kick": np.arange(81, 101)})
    assert new.tolist() == list(range(81, 101))


def test_a_piece_without_a_model_stays() -> None:
    velocity = np.array([10, 20])
    new = match_velocities(velocity, np.array(["kick", "ride"]), {"kick": np.array([99])})
    assert new.tolist() == [99, 20]


def test_dials() -> None:
    dials = parse_dials("mask", ["30", "snare=24", "Side-Stick=20"], 36, 0, 100)
    assert (dials["kick"], dials["snare"], dials["side stick"]) == (30, 24, 20)
    assert dials.each(np.array(["snare", "hat"])).tolist() == [24, 30]
    assert dials.words == "30, snare 24, side stick 20"
    assert parse_dials("mask", [], 36, 0, 100) == Dials(36)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (["x"], "mask: 'x' is not a number from 0 to 100"),
        (["snare=nan"], "mask: 'nan' is not a number"),
        (["-1"], "mask: '-1'"),
        (["101"], "mask: '101'"),
        (["gong=3"], "mask: 'gong' is not a piece"),
        (["3", "4"], "mask: two numbers for all pieces"),
        (["snare=3", "snare=4"], "mask: two numbers for snare"),
        (["=3"], "mask: '' is not a piece"),
        ([""], "mask: ''"),
    ],
)
def test_bad_dials_are_refused_by_name(text: list[str], says: str) -> None:
    with pytest.raises(SettingError, match=says):
        parse_dials("mask", text, 36, 0, 100)


def test_whole_dials() -> None:
    with pytest.raises(SettingError, match=r"'2\.5' is not a whole number"):
        parse_dials("floor", ["2.5"], 1, 1, 127, whole=True)
