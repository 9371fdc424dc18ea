"""Roles and the ghost limit."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from tests.build import CRASH, HAT, KICK, RIM, SNARE, STICK, TOM, drum_take

from evenhand.kit.maps import KIT_MAPS
from evenhand.kit.roles import FALLBACK_LIMIT, find_ghost_limit, label
from evenhand.recipe import Recipe


def _roles(notes: list[tuple[int, int]], anchors: tuple[str, ...] = Recipe().anchor) -> list[str]:
    take = drum_take(
        [(240 * place, note, velocity) for place, (note, velocity) in enumerate(notes)]
    )
    hits, _ = label(take.hits(), KIT_MAPS["ekit"], anchors, 40)
    return hits.role.tolist()


def test_roles_by_piece_and_velocity() -> None:
    notes = [(KICK, 20), (SNARE, 40), (SNARE, 39), (RIM, 39), (STICK, 10), (HAT, 9), (51, 9)]
    assert _roles(notes) == ["anchor", "anchor", "ghost", "ghost", "anchor"] + ["timekeeper"] * 2
    assert _roles([(CRASH, 90), (55, 90), (56, 90)]) == ["accent", "accent", "timekeeper"]
    assert _roles([(TOM, 90), (3, 90), (54, 90)]) == ["fill", "other", "other"]


def test_other_anchors() -> None:
    assert _roles([(KICK, 90), (SNARE, 90), (HAT, 90)], ("hat",)) == ["other", "other", "anchor"]
    # A ghost stays a ghost whatever the anchors are.
    assert _roles([(SNARE, 30), (SNARE, 90)], ("hat",)) == ["ghost", "other"]


def test_two_groups_give_a_limit_between_them() -> None:
    velocity = np.array([20, 22, 24, 26, 28, 30] * 4 + [90, 95, 100, 105, 110] * 4)
    limit = find_ghost_limit(velocity)
    # Worked by hand: means 25 and 100, and every cut from 31 to 90 parts the groups equally well.
    assert 31 <= limit.velocity <= 90
    assert limit.why == "snare velocities fall into two groups, around 25 and 100"


def test_one_group_gives_the_fallback() -> None:
    even = np.tile(np.arange(60, 121), 3)
    assert find_ghost_limit(even).velocity == FALLBACK_LIMIT
    assert "two groups" in find_ghost_limit(even).why


def test_few_hits_give_the_fallback() -> None:
    assert find_ghost_limit(np.array([20] * 9 + [100] * 10)).velocity == FALLBACK_LIMIT
    assert find_ghost_limit(np.array([], np.int64)).velocity == FALLBACK_LIMIT


def test_equally_loud_hits_are_no_ghosts() -> None:
    assert find_ghost_limit(np.full(50, 100)).velocity == FALLBACK_LIMIT
    assert find_ghost_limit(np.full(50, 30)).velocity == 15


def test_two_loud_groups_are_no_ghosts() -> None:
    velocity = np.array([80] * 30 + [125] * 30)
    assert find_ghost_limit(velocity).velocity == FALLBACK_LIMIT


@given(st.lists(st.integers(1, 127), max_size=200))
def test_limit_is_a_velocity_and_a_loud_hit_is_no_ghost(velocities: list[int]) -> None:
    column = np.array(velocities, np.int64)
    limit = find_ghost_limit(column)
    assert 0 <= limit.velocity <= 127
    assert limit.why
    if len(column):
        assert column.max() >= limit.velocity
