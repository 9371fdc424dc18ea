"""Bars that run ahead, and limbs that slip alone."""

import tracemalloc

import numpy as np
import pytest
from tests.habit.test_lines_and_habit import HAT, KICK, SNARE, at, belonging, groove

from evenhand.ground import Ground
from evenhand.habit import (
    Belonging,
    Pushes,
    find_alone,
    find_limbs,
    find_pushes,
    stretches,
    with_borders,
    without_recurring,
)
from evenhand.habit.limbs import HAT_FOOT, KICK_FOOT, NO_LIMB, SNARE_HAND, TIME_HAND
from evenhand.sections import Sections

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
    assert found.at(np.array([9, 10, 11, 12]))[1].tolist() == [0.0, found.ms[0], found.ms[0], 0.0]


def test_pushes_are_the_same_however_many_bars_are_looked_at_in_one_go(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    late = {(bar, beat, note): 30.0 for bar in (5, 12, 13) for beat, note in _ALL}
    belongs = belonging(groove(24, late))
    found = pushes(belongs)
    monkeypatch.setattr(stretches, "_AT_ONCE", 5)
    again = pushes(belongs)
    assert (found.first.tolist(), found.last.tolist()) == ([7, 14], [7, 15])
    assert (again.first.tolist(), again.last.tolist()) == ([7, 14], [7, 15])
    assert again.ms.tolist() == found.ms.tolist()


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


def _sections(name: tuple[str, ...], bar: list[int], last: int) -> Sections:
    begin = np.array(bar, np.float64) * 1920
    return Sections(begin, np.array(bar), last, 60.0, name, "by hand")


def test_a_push_that_recurs_in_sections_of_a_label_is_habit() -> None:
    # The last bar before each chorus runs ahead: bars 8, 24 and 40 of the groove.
    names, bars = ("verse", "chorus") * 3, [1, 10, 18, 26, 34, 42]
    often = {(bar, beat, note): -32.0 for bar in (7, 23, 39) for beat, note in _ALL}
    once = {(bar, beat, note): -32.0 for bar in (23,) for beat, note in _ALL}
    for shifts, left in ((once, 1), (often, 0)):
        found = belonging(groove(48, shifts))
        off, spread = found.deviation - found.habit.ms[found.cell], found.habit.spread[found.cell]
        pushes_found = pushes(found)
        assert len(pushes_found) >= 1
        kept = without_recurring(pushes_found, off, spread, found.bar, _sections(names, bars, 50))
        assert len(kept) == left
        # Sections that are all different say nothing.
        other = _sections(tuple("abcdef"), bars, 50)
        same = without_recurring(pushes_found, off, spread, found.bar, other)
        assert len(same) == len(pushes_found)


def test_a_push_begins_at_the_line_that_leaves_the_least_uneven_steps() -> None:
    # The bar runs ahead, and the last hat before it as well.
    early = {(bar, beat, note): -32.0 for bar in (8,) for beat, note in _ALL}
    early[7, 3.5, HAT] = -32.0
    found = belonging(groove(24, early))
    off, spread = found.deviation - found.habit.ms[found.cell], found.habit.spread[found.cell]
    place = found.bar + found.within
    one = with_borders(pushes(found), off, spread, place)
    assert len(one) == 1
    assert one.begin[0] == 9.875
    assert one.stop[0] == 11.0
    assert one.at(np.array([9.875, 10.5]))[1][0] == one.ms[0]
    assert one.at(np.array([9.75, 11.0]))[1].tolist() == [0.0, 0.0]


def test_a_push_that_comes_slowly_rises_over_an_eighth_of_a_bar() -> None:
    one = Pushes(*(np.array([value]) for value in (10, 10, -20.0, 10.0, 11.0, 0.125, 0.0, 0.0)))
    push, ms = one.at(np.array([9.8, 9.9375, 10.0, 10.9, 11.0]))
    assert ms.tolist() == [0, -10, -20, -20, 0]
    assert push.tolist() == [-1, 0, 0, 0, -1]


def test_bars_far_apart_and_many_take_no_more_memory_than_the_hits() -> None:
    # Two hits a million bars apart: nothing grows with the bars between.
    bar = np.array([0, 1, 2, 3, 4, 5, 10**9, 10**9 + 1])
    many = np.repeat(bar, 4)
    within = np.tile([0.0, 0.25, 0.5, 0.75], len(bar))
    tracemalloc.start()
    found = find_pushes(np.zeros(len(many)), np.full(len(many), 8.0), many, within)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(found) == 0
    assert peak < 1_000_000
