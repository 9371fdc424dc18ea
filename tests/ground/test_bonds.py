"""What keeps its distance: graces and their main hits, landings and their crashes."""

import numpy as np

from evenhand.ground.bonds import find_bonds
from evenhand.ground.ornaments import Ornaments, no_ornaments

_ROLE = {"k": "anchor", "h": "timekeeper", "c": "accent", "g": "grace"}


def _bind(
    hits: list[tuple[float, str]], landings: list[float], ornaments: Ornaments | None = None
) -> tuple[list[int], list[bool]]:
    ms = np.array([at for at, _ in hits])
    role = np.array([_ROLE[letter] for _, letter in hits])
    bond, anchor = find_bonds(ms, role, ornaments or no_ornaments(len(hits)), np.array(landings))
    return bond.tolist(), anchor.tolist()


def test_a_crash_goes_with_the_kick_that_a_fill_lands_on() -> None:
    hits = [(0.0, "k"), (500.0, "h"), (1004.0, "k"), (1012.0, "c"), (1500.0, "c")]
    assert _bind(hits, [1000.0]) == ([-1, -1, 2, 2, -1], [True, False, True, True, False])
    # Without a landing it is carried.
    assert _bind(hits, []) == ([-1] * 5, [True, False, True, False, False])


def test_without_a_kick_the_crash_is_what_it_lands_on() -> None:
    hits = [(0.0, "h"), (1008.0, "c")]
    assert _bind(hits, [1000.0]) == ([-1, 1], [False, True])
    # And without either there is nothing.
    assert _bind([(0.0, "h"), (500.0, "h")], [1000.0]) == ([-1, -1], [False, False])
    assert _bind([(0.0, "k"), (500.0, "h")], [1000.0]) == ([-1, -1], [True, False])


def test_a_grace_goes_with_its_main_hit_and_that_with_the_crash() -> None:
    hits = [(975.0, "g"), (1000.0, "k"), (1003.0, "c")]
    flam = Ornaments(np.array([1, -1, -1]), np.array(["flam", "", ""]))
    assert _bind(hits, [], flam) == ([1, 1, -1], [False, True, False])
    assert _bind(hits, [1000.0], flam) == ([1, 1, 1], [False, True, True])
