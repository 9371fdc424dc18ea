"""Crosstalk: learnt from the take, pair by pair, and told from ghosts."""

import numpy as np
import pytest

from evenhand.jobs.triggers.crosstalk import ANSWER_MS, Crosstalk, find_crosstalk

#: A bar of 2 s, four beats.
BAR, BEAT = 2000.0, 500.0


class Scene:
    """Hits collected one by one."""

    def __init__(self, bars: int = 32) -> None:
        self.rows: list[tuple[float, int, str, bool]] = []
        self.chance = np.random.default_rng(5)
        for bar in range(bars):
            for eighth in range(8):
                self.hit(bar, eighth / 2, 60, "hat", scatter=8)
            for beat in (0, 1.5, 2, 3.25):
                self.hit(bar, beat, 110, "kick")
            for beat in (1, 3):
                self.hit(bar, beat, 105, "snare")

    def hit(
        self, bar: int, beat: float, velocity: int, pad: str, late: float = 0, scatter: float = 0
    ) -> None:
        ms = bar * BAR + beat * BEAT + late + scatter * self.chance.standard_normal()
        self.rows.append((ms, velocity, pad, False))

    def answers(self, source: str, pad: str, share: float, loud: tuple[float, float]) -> int:
        """Let `pad` answer some of the blows on `source`; returns how many."""
        blows = [row for row in self.rows if row[2] == source and row[1] > 60]
        struck = [row for row in blows if self.chance.random() < share]
        for ms, velocity, *_ in struck:
            answer = max(1, round(velocity * self.chance.uniform(*loud)))
            self.rows.append((ms + self.chance.uniform(1, 6), answer, pad, True))
        return len(struck)

    def find(self) -> tuple[Crosstalk, np.ndarray]:
        ms, velocity, pad, false = (np.array(one) for one in zip(*self.rows, strict=True))
        beat = ms % BAR / BEAT + 1
        return find_crosstalk(ms, velocity, pad, beat), false


def test_answers_are_found_and_told_as_a_pair() -> None:
    scene = Scene()
    planted = scene.answers("kick", "snare", 0.4, (0.1, 0.3))
    found, false = scene.find()
    assert false[found.hit].all()
    assert len(found.hit) >= 0.97 * planted
    (pair,) = found.pairs
    assert (pair.source, pair.shaken) == ("kick", "snare")
    assert (pair.answers, pair.blows) == (len(found.hit), 128)
    assert 1 <= pair.lag_ms <= 6
    assert 10 <= pair.loudness <= 30
    _, velocity, pad, _ = (np.array(one) for one in zip(*scene.rows, strict=True))
    assert set(pad[found.of].tolist()) == {"kick"}
    assert (velocity[found.hit] < velocity[found.of]).all()


def test_a_few_coincidences_are_no_crosstalk() -> None:
    scene = Scene()
    for bar in (3, 9, 14, 20):
        scene.hit(bar, 0, 20, "snare", late=3)
    found, _ = scene.find()
    assert (len(found.hit), found.pairs) == (0, ())


def test_a_clean_scene_stays() -> None:
    found, _ = Scene().find()
    assert len(found.hit) == 0


@pytest.mark.parametrize("late", [-4.0, 12.0])
def test_an_answer_comes_after_and_at_once(late: float) -> None:
    scene = Scene()
    for bar in range(32):
        scene.hit(bar, (0, 1.5, 2, 3.25)[bar % 4], 20, "snare", late=late, scatter=0.5)
    assert abs(late - ANSWER_MS / 2) > ANSWER_MS / 2
    found, _ = scene.find()
    assert len(found.hit) == 0


def test_ghosts_that_keep_their_own_time_survive() -> None:
    """In every bar a ghost falls together with one kick, and with no other."""
    scene = Scene()
    for bar in range(32):
        scene.hit(bar, 1.5, 22, "snare", late=3, scatter=1.0)
    found, _ = scene.find()
    assert len(found.hit) == 0


def test_ghosts_survive_amid_crosstalk() -> None:
    scene = Scene(64)
    for bar in range(64):
        scene.hit(bar, 1.5, 22, "snare", scatter=4)
        scene.hit(bar, 2.75, 24, "snare", scatter=4)
    planted = scene.answers("kick", "snare", 0.3, (0.1, 0.3))
    found, false = scene.find()
    assert (~false[found.hit]).sum() == 0
    # Answers at the ghosts' own place can't be told from them and stay: a quarter of all.
    assert len(found.hit) >= 0.65 * planted


def test_the_kick_explains_what_the_hat_beside_it_need_not() -> None:
    scene = Scene()
    scene.answers("kick", "tom 1", 0.5, (0.1, 0.2))
    found, _ = scene.find()
    assert [(pair.source, pair.shaken) for pair in found.pairs] == [("kick", "tom 1")]


def test_two_pads_shaken() -> None:
    scene = Scene()
    scene.answers("kick", "snare", 0.5, (0.1, 0.3))
    scene.answers("snare", "tom 1", 0.6, (0.1, 0.3))
    found, false = scene.find()
    pairs = {(pair.source, pair.shaken) for pair in found.pairs}
    assert pairs == {("kick", "snare"), ("snare", "tom 1")}
    assert false[found.hit].all()


def test_no_hits_and_one_hit() -> None:
    none = np.zeros(0)
    assert len(find_crosstalk(none, none.astype(int), none.astype(str), none).hit) == 0
    one = np.ones(1)
    assert len(find_crosstalk(one, one.astype(int), np.array(["kick"]), one).hit) == 0
