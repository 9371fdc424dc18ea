"""Double triggers: what is one, and which ornaments are none."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.jobs.triggers.doubles import MASK_MS, Echoes, find_doubles

Struck = list[tuple[float, int]]


def _find(hits: Struck, pad: list[str] | None = None, mask: float = MASK_MS) -> Echoes:
    ms, velocity = (np.array(column) for column in zip(*hits, strict=True))
    pads = np.array(pad or ["snare"] * len(hits))
    return find_doubles(ms.astype(float), velocity, pads, np.full(len(hits), mask))


@pytest.mark.parametrize(
    ("gap", "velocity", "echo"),
    [
        (8, 60, True),
        (8, 61, False),  # 60 % of 100, and no more
        (35, 15, True),
        (36, 15, True),  # the mask itself still counts
        (36.5, 15, False),
        (20, 120, False),  # the louder second hit of a flam
        (0, 30, True),
    ],
)
def test_a_softer_hit_soon_after_is_an_echo(gap: float, velocity: int, echo: bool) -> None:
    found = _find([(1000, 100), (1000 + gap, velocity), (1500, 90)])
    assert found.hit.tolist() == ([1] if echo else [])
    assert found.of.tolist() == ([0] if echo else [])


def test_rounding_of_soft_hits_is_allowed_for() -> None:
    # 60 % of 8 is 4.8, which a pad sends as 5.
    assert _find([(0, 8), (12, 5)]).hit.tolist() == [1]


def test_another_pad_has_nothing_to_do_with_it() -> None:
    assert _find([(0, 100), (12, 30)], ["snare", "tom 1"]).hit.tolist() == []
    assert _find([(0, 100), (5, 90), (12, 30)], ["snare", "tom 1", "snare"]).hit.tolist() == [2]


def test_order_in_the_file_does_not_matter() -> None:
    found = _find([(1500, 90), (1012, 30), (1000, 100)])
    assert (found.hit.tolist(), found.of.tolist()) == ([1], [2])


def test_a_pad_that_rings_on_is_measured_by_its_blow() -> None:
    found = _find([(0, 120), (11, 60), (22, 50), (500, 100)])
    assert (found.hit.tolist(), found.of.tolist()) == ([1, 2], [0, 0])


def test_a_mask_of_nothing_finds_nothing() -> None:
    assert _find([(0, 100), (0, 10), (9, 30)], mask=0).hit.tolist() == []


def test_no_hits() -> None:
    none = np.zeros(0, np.int64)
    found = find_doubles(none.astype(float), none, none.astype(str), none.astype(float))
    assert len(found.hit) == 0


# Ornaments. Common practice for their spacing: flams from 12 ms, the strokes of a buzz roll about
# 25 ms apart, 32nd notes at 200 bpm 37.5 ms.


@pytest.mark.parametrize("gap", [12, 15, 20, 25, 30, 35])
@pytest.mark.parametrize("grace", [10, 30, 60])
def test_flams_survive(gap: float, grace: int) -> None:
    hits: Struck = []
    for beat in range(16):
        hits += [(500.0 * beat - gap, grace), (500.0 * beat, 100 + beat)]
    assert _find(hits).hit.tolist() == []


@pytest.mark.parametrize("spacing", [22, 25, 30, 35])
@pytest.mark.parametrize(
    "velocities",
    [
        [60] * 24,  # even
        [80, 70, 62, 55, 48, 42, 37, 33, 29, 25, 22, 19],  # dying away
        [110, 50, 48, 46, 44, 42, 40, 38],  # an accent and its buzz
        [70, 38] * 10,  # a strong and a weak stick
        [60, 34, 20],  # one short buzz
        list(range(20, 110, 6)),  # swelling
    ],
)
def test_buzz_rolls_survive(spacing: float, velocities: list[int]) -> None:
    roll = [(spacing * place, velocity) for place, velocity in enumerate(velocities)]
    assert _find([*roll, (spacing * len(roll) + 400, 100)]).hit.tolist() == []


@pytest.mark.parametrize("seed", range(20))
def test_uneven_buzz_rolls_survive(seed: int) -> None:
    chance = np.random.default_rng(seed)
    time = 25.0 * np.arange(40) + chance.uniform(-2, 2, 40)
    velocity = chance.integers(35, 71, 40)
    assert _find(list(zip(time, velocity, strict=True))).hit.tolist() == []


@pytest.mark.parametrize("seed", range(20))
def test_uneven_bounces_survive(seed: int) -> None:
    chance = np.random.default_rng(seed)
    time = np.cumsum(chance.uniform(19, 31, 42))
    velocity = np.round(np.tile([80, 40, 24], 14) * chance.uniform(0.9, 1.1, 42)).astype(int)
    assert _find(list(zip(time, velocity, strict=True))).hit.tolist() == []


@pytest.mark.parametrize("seed", range(20))
def test_double_kick_at_200_bpm_survives(seed: int) -> None:
    chance = np.random.default_rng(seed)
    time = 37.5 * np.arange(64) + chance.uniform(-4, 4, 64)
    velocity = chance.integers(60, 128, 64)
    hits = list(zip(time, velocity, strict=True))
    assert _find(hits, ["kick"] * 64).hit.tolist() == []


def test_drags_survive() -> None:
    hits: Struck = []
    for beat in range(16):
        hits += [(500.0 * beat - 60, 40), (500.0 * beat - 30, 22), (500.0 * beat, 110)]
    assert _find(hits).hit.tolist() == []


_HITS = st.lists(
    st.tuples(st.floats(0, 400), st.integers(1, 127), st.sampled_from(["snare", "kick"])),
    min_size=1,
    max_size=40,
)


@given(_HITS, st.floats(0, 60))
def test_what_goes_is_softer_and_follows_on_its_pad(
    hits: list[tuple[float, int, str]], mask: float
) -> None:
    ms, velocity, pad = (np.array(column) for column in zip(*hits, strict=True))
    found = find_doubles(ms, velocity, pad, np.full(len(ms), mask))
    assert (velocity[found.hit] <= 0.6 * velocity[found.of] + 0.5).all()
    assert (pad[found.hit] == pad[found.of]).all()
    assert (ms[found.hit] >= ms[found.of]).all()
    # What an echo repeats is never itself an echo, so every blow stays.
    assert not set(found.hit.tolist()) & set(found.of.tolist())
    for hit in found.hit.tolist():
        before = ms[(pad == pad[hit]) & (ms <= ms[hit]) & (np.arange(len(ms)) != hit)]
        assert ms[hit] - before.max() <= mask + 1e-6
