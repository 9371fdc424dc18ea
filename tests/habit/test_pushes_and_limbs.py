"""Bars that run ahead, and limbs that slip alone."""

import numpy as np
from tests.habit.test_lines_and_habit import HAT, KICK, SNARE, at, belonging, groove

from evenhand.ground import Ground
from evenhand.habit import Belonging, Pushes, find_alone, find_limbs, find_pushes
from evenhand.habit.limbs import HAT_FOOT, KICK_FOOT, NO_LIMB, SNARE_HAND, TIME_HAND

_ALL = [*((beat / 2, HAT) for beat in range(8)), (0, KICK), (1, SNARE), (2, KICK), (3, SNARE)]


def pushes(found: Belonging) -> Pushes:
    bar, within = found.bar, found.within
    off = found.deviation - found.habit.ms[found.cell]
    return find_pushes(off, found.habit.spread[found.cell], bar, within)


def test_bars_that_run_ahead_as_a_whole_are_one_push() -> None:
    early = {(bar, beat, note): -32.0 for bar in (8, 9) for beat, note in _ALL}
    found = pushes(belonging(groove(24, early)))
    # The groove begins in bar 2 of the file.
    assert (found.first.tolist(), found.last.tolist()) == ([10], [11])
    assert -45 < found.ms[0] < -25
    assert found.at(np.array([9, 10, 11, 12])).tolist() == [0.0, found.ms[0], found.ms[0], 0.0]


def test_an_easing_over_many_bars_is_none() -> None:
    ease = {(bar, beat, note): 4.0 * min(bar, 20 - bar) for bar in range(20) for beat, note in _ALL}
    assert len(pushes(belonging(groove(24, ease)))) == 0


def test_a_tight_groove_has_none() -> None:
    assert len(pushes(belonging(groove(24, {})))) == 0


def _alone(ground: Ground) -> tuple[Belonging, np.ndarray]:
    found = belonging(ground)
    keeper = ground.hits.note == HAT
    return found, find_alone(found, found.off, ground.strokes.reference, keeper)


def test_a_limb_slips_alone_where_the_hat_keeps_its_time() -> None:
    ground = groove(16, {(7, 2, KICK): 45.0})
    _, alone = _alone(ground)
    stroke = ground.strokes.of_hit[at(ground, 7, 2, KICK)]
    assert alone[stroke]


def test_the_body_slips_where_the_hat_goes_along_or_there_is_none() -> None:
    ground = groove(16, {(7, 2, KICK): 45.0, (7, 2, HAT): 45.0})
    _, alone = _alone(ground)
    assert not alone[ground.strokes.of_hit[at(ground, 7, 2, KICK)]]
    found = belonging(ground)
    nobody = np.zeros(len(ground.tick), np.bool_)
    assert not find_alone(found, found.off, ground.strokes.reference, nobody).any()


def test_who_plays_what() -> None:
    piece = np.array(["kick", "snare", "tom 2", "hat", "hat", "crash", "clap"])
    pedal = np.array([False, False, False, False, True, False, False])
    assert find_limbs(piece, pedal).tolist() == [
        *(KICK_FOOT, SNARE_HAND, SNARE_HAND),
        *(TIME_HAND, HAT_FOOT, TIME_HAND, NO_LIMB),
    ]
