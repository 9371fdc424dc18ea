"""Ornaments: worked examples at 120 bpm (a sixteenth is 125 ms), and invented takes."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.ornament_takes import KINDS, Played, ornamented

from evenhand.ground.ornaments import Ornaments, find_ornaments, no_ornaments

Hit = tuple[float, int] | tuple[float, int, str]


def _find(hits: list[Hit], sixteenth: float = 125.0) -> Ornaments:
    ms, velocity, piece = zip(*[(*hit, "snare")[:3] for hit in hits], strict=True)
    return find_ornaments(
        np.array(ms, np.float64),
        np.array(velocity),
        np.unique(piece, return_inverse=True),
        np.full(len(ms), sixteenth),
    )


def _told(found: Ornaments) -> tuple[list[str], list[int]]:
    return found.kind.tolist(), found.main.tolist()


def test_one_grace_is_a_flam() -> None:
    assert _told(_find([(472, 40), (500, 100)])) == (["flam", ""], [1, -1])


def test_file_order_does_not_matter() -> None:
    assert _told(_find([(500, 100), (472, 40)])) == (["", "flam"], [-1, 0])


def test_two_graces_are_a_drag_and_three_a_ruff() -> None:
    assert _told(_find([(440, 30), (470, 35), (500, 100)])) == (["drag", "drag", ""], [2, 2, -1])
    kinds, mains = _told(_find([(410, 30), (440, 30), (470, 35), (500, 100)]))
    assert (kinds, mains) == (["ruff"] * 3 + [""], [3, 3, 3, -1])


@pytest.mark.parametrize(
    ("hits", "why"),
    [
        ([(438, 40), (500, 100)], "62 ms are too far for a grace"),
        ([(472, 85), (500, 100)], "nearly as loud: two hits"),
        ([(472, 40, "tom 1"), (500, 100, "snare")], "on another drum"),
        ([(472, 40, "kick"), (500, 100, "kick")], "feet play no flams"),
        ([(500, 100), (528, 40)], "the soft hit follows"),
        ([(375, 30), (500, 100)], "a ghosted sixteenth"),
        ([(0, 90), (125, 90), (250, 90), (375, 90), (500, 90), (625, 90)], "a sixteenth run"),
    ],
)
def test_what_is_no_ornament(hits: list[Hit], why: str) -> None:
    found = _find(hits)
    assert _told(found) == (_told(no_ornaments(len(hits)))), why


def test_graces_are_closer_at_fast_tempi() -> None:
    # At 220 bpm a sixteenth is 68 ms: a soft hit 45 ms before a loud one is an early sixteenth.
    assert _find([(455, 40), (500, 100)], sixteenth=68.2).kind.tolist() == ["", ""]
    assert _find([(475, 40), (500, 100)], sixteenth=68.2).kind.tolist() == ["flam", ""]


def test_dense_bunch_moves_with_its_loudest_hit() -> None:
    leading: list[Hit] = [(400 + 25 * number, 40) for number in range(4)]
    kinds, mains = _told(_find([*leading, (500, 100)]))
    assert (kinds, mains) == (["buzz"] * 4 + [""], [4, 4, 4, 4, -1])
    falling: list[Hit] = [(500 + 25 * number, 100 - 15 * number) for number in range(5)]
    assert _told(_find(falling)) == (["", *["buzz"] * 4], [-1, 0, 0, 0, 0])


def test_roll_is_what_lies_between_its_ends() -> None:
    roll: list[Hit] = [(62.5 * number, 70) for number in range(9)]
    kinds, mains = _told(_find(roll))
    assert (kinds, mains) == (["", *["roll"] * 7, ""], [-1] * 9)


def test_long_buzz_is_a_roll() -> None:
    kinds, _ = _told(_find([(30.0 * number, 40) for number in range(20)]))
    assert kinds == ["", *["roll"] * 18, ""]


def _find_in(played: Played) -> Ornaments:
    ms, sixteenth = np.array(played.ms), np.full(len(played.ms), played.sixteenth)
    piece = np.unique(played.piece, return_inverse=True)
    return find_ornaments(ms, np.array(played.velocity), piece, sixteenth)


@pytest.mark.parametrize("bpm", [60, 90, 120, 150, 180, 220])
def test_known_ornaments_are_found(bpm: float) -> None:
    true, found = [], []
    for seed in range(100, 106):
        played = ornamented(bpm, seed)
        true += played.kind
        found += _find_in(played).kind.tolist()
    pairs = list(zip(true, found, strict=True))
    right = sum(one == other != "" for one, other in pairs)
    wrong = sum((one != other) * ((one != "") + (other != "")) for one, other in pairs)
    assert {one for one in true if one} == set(KINDS)
    assert 2 * right / (2 * right + wrong) >= 0.95


_PIECES = st.sampled_from(["snare", "snare", "snare", "tom 1", "kick"])
_DRUMMED = st.lists(
    st.tuples(
        # Most hits follow closely: a gap of 5 to 200 ms.
        st.integers(5, 200),
        st.integers(1, 127),
        _PIECES,
    ),
    min_size=1,
    max_size=40,
)
_MOST = {"flam": {1}, "drag": {2}, "ruff": {3, 4}}


def _played(drummed: list[tuple[int, int, str]]) -> list[Hit]:
    times = np.cumsum([gap for gap, _, _ in drummed]).tolist()
    return [(at, loud, piece) for at, (_, loud, piece) in zip(times, drummed, strict=True)]


@given(_DRUMMED, st.sampled_from([68.2, 125.0, 250.0]))
def test_what_leads_goes_with_a_louder_hit_of_its_drum(
    drummed: list[tuple[int, int, str]], sixteenth: float
) -> None:
    hits = _played(drummed)
    found = _find(hits, sixteenth)
    for hit, (at, loud, piece) in enumerate(hits):
        kind, main = str(found.kind[hit]), int(found.main[hit])
        assert (main >= 0) == (kind not in ("", "roll"))
        assert piece != "kick" or kind == ""
        if main < 0:
            continue
        # What it goes with goes with nothing, is on the same drum, and is louder.
        assert (found.main[main], found.kind[main], hits[main][2]) == (-1, "", piece)
        mates = np.flatnonzero(found.main == main)
        if kind == "buzz":
            assert loud <= hits[main][1]
            assert len(mates) >= 4
            assert abs(hits[main][0] - at) <= 250
        else:
            assert loud <= 0.8 * hits[main][1]
            assert len(mates) in _MOST[kind]
            assert 0 < hits[main][0] - at <= min(60, 0.62 * sixteenth) * len(mates)


@given(_DRUMMED, st.integers(-1000, 1000), st.randoms(use_true_random=False))
def test_neither_order_nor_when_it_begins_matters(
    drummed: list[tuple[int, int, str]], later: int, chance: random.Random
) -> None:
    hits = _played(drummed)
    order = list(range(len(hits)))
    chance.shuffle(order)
    moved: list[Hit] = [(hits[one][0] + later, *hits[one][1:]) for one in order]
    one, other = _find(hits), _find(moved)
    assert other.kind.tolist() == one.kind[order].tolist()
    place = np.argsort(order)
    expected = [place[main] if main >= 0 else -1 for main in one.main[order]]
    assert other.main.tolist() == expected
