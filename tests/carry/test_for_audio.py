"""A pass for audio: one map, in which whatever audio can't cut apart moves as one."""

from pathlib import Path

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, TICKS_PER_MS, drum_take, plain_recipe

from evenhand import Recipe, Take, read_take, tighten
from evenhand.carry import CUT_AS_ONE, FADE_MS, HOLD_MS, LEAD_MS, Room, Spans, join_close
from evenhand.carry.for_audio import _settle
from evenhand.tightener import Result

_ROOM = Room(LEAD_MS, HOLD_MS, FADE_MS)

#: Of the listening copies of 480 ticks per quarter: a move less than this is one of rounding, ms.
_TICK_MS = 1 / TICKS_PER_MS + 1e-6


def _groove(late: float = 0.0, near: float = 0.0) -> list[tuple[int, int, int]]:
    """Eight bars of eighths; one snare late by some ms, and a kick so many ms behind it."""
    notes = []
    for bar in range(8):
        start = bar * 1920
        notes += [(start + step * 240, HAT, 70) for step in range(8)]
        notes += [(start + beat, KICK, 100) for beat in (0, 960)]
        notes += [(start + beat, SNARE, 110) for beat in (480, 1440)]
    slip = round(late * TICKS_PER_MS)
    notes.remove((4 * 1920 + 480, SNARE, 110))
    notes.append((4 * 1920 + 480 + slip, SNARE, 110))
    if near:
        notes.append((4 * 1920 + 480 + slip + round(near * TICKS_PER_MS), KICK, 90))
    return sorted(notes)


def _cuts(result: Result) -> np.ndarray:
    """For each two neighbouring hits, whether audio can be cut between them as they moved."""
    hits, after = result.ground.hits, result.changes.ms_after
    order = np.argsort(hits.ms, kind="stable")
    change = np.diff((after - hits.ms)[order])
    change[np.abs(change) < _TICK_MS] = 0
    return _ROOM.fits(np.diff(hits.ms[order]), change)


def test_what_the_guard_has_limited_is_joined_once_more() -> None:
    # The first two go against each other, by 84 ms over a gap of 63, which may grow by 63: the
    # larger gives way, to 33. Now it differs from the third, 33 ms behind it, where nothing can be
    # cut; so both are one block, which follows the heavier third, and is limited in its turn.
    at = np.array([31.0, 94.0, 127.0])
    spans = Spans(at, at, np.array([-30.0, 54.0, 54.0]), np.array([100.0, 101.0, 102.0]))
    starts, shift = _settle(spans, Room(4.0, 35.0, 5.0))
    assert starts.tolist() == [0, 1]
    assert shift.tolist() == [-30.0, 33.0]


def test_a_limb_that_slipped_alone_takes_all_along() -> None:
    take = drum_take(_groove(late=40))
    alone, whole = (tighten(take, Recipe(for_audio=one)) for one in ("off", "on"))
    hat = int(np.flatnonzero((take.hits().tick == 4 * 1920 + 480) & (take.hits().note == HAT))[0])
    snare = int(np.argmin(np.abs(take.hits().tick - (4 * 1920 + 518))))
    assert alone.changes.shift_ms[hat] == 0
    assert alone.changes.shift_ms[snare] < -20
    assert whole.changes.shift_ms[hat] == pytest.approx(whole.changes.shift_ms[snare], abs=1e-6)
    assert len(whole.carry.maps) == 1
    assert not _cuts(alone).all()
    assert _cuts(whole).all()


def test_what_is_too_close_moves_by_one_amount_and_says_why() -> None:
    take = drum_take(_groove(late=30, near=30))
    plain = {"strength": 100, "window": 5}
    before, after = (tighten(take, plain_recipe(for_audio=one, **plain)) for one in ("off", "on"))
    kick = int(np.flatnonzero(take.hits().velocity == 90)[0])
    snare = int(np.flatnonzero(take.hits().tick == 4 * 1920 + 480 + 29)[0])
    assert abs(before.changes.shift_ms[kick] - before.changes.shift_ms[snare]) > 2
    assert after.changes.shift_ms[kick] == pytest.approx(after.changes.shift_ms[snare], abs=1e-6)
    # The louder anchor leads.
    assert after.changes.shift_ms[snare] == before.changes.shift_ms[snare]
    assert after.changes.reason[kick] == CUT_AS_ONE
    assert _cuts(after).all()


def test_what_is_held_or_nudged_leads() -> None:
    take = drum_take(_groove(late=30, near=30))
    kick = int(np.flatnonzero(take.hits().velocity == 90)[0])
    place = take.meter.position(int(take.hits().tick[kick]))
    plain = {"strength": 100, "window": 5, "for_audio": "on"}
    held = tighten(take, plain_recipe(hold=(f"{place}-{place}",), **plain))
    snare = int(np.flatnonzero(take.hits().tick == 4 * 1920 + 480 + 29)[0])
    assert held.changes.shift_ms[[kick, snare]].tolist() == [0, 0]
    assert held.changes.action[kick] == "held"
    assert held.changes.reason[snare] == CUT_AS_ONE
    assert held.changes.action[snare] == "kept"
    nudged = tighten(take, plain_recipe(nudge=({"hit": kick + 1, "ms": 10.0},), **plain))
    shift = nudged.changes.shift_ms
    assert nudged.carry.nudged[kick]
    assert shift[snare] == pytest.approx(shift[kick], abs=1e-6)


def test_it_wins_over_carry_and_its_sections() -> None:
    take = drum_take(_groove(late=40))
    recipe = Recipe(
        for_audio="on", carry="limbs", section=({"name": "loud", "bars": "4-6", "carry": "limbs"},)
    )
    result = tighten(take, recipe)
    assert len(result.carry.maps) == 1
    assert _cuts(result).all()


def test_without_it_nothing_is_otherwise(takes: list[Path]) -> None:
    for path in takes[::20]:
        take = read_take(path)
        # What holds for audio holds at most where hits are close: the rest is one map's.
        plain = tighten(take, Recipe(window=6, strength=100))
        audio = tighten(take, Recipe(window=6, strength=100, for_audio="on"))
        same = ~audio.carry.cut
        assert np.abs(plain.changes.tick_after - audio.changes.tick_after)[same].max(initial=0) <= 1


def test_real_takes_can_be_cut(takes: list[Path]) -> None:
    broken = pairs = 0
    for path in takes[::10]:
        take = read_take(path)
        for recipe in (Recipe(for_audio="on"), Recipe(for_audio="on", window=6, strength=100)):
            cuts = _cuts(tighten(take, recipe))
            broken, pairs = broken + int((~cuts).sum()), pairs + len(cuts)
    assert pairs > 5000
    assert broken == 0


def test_an_empty_or_single_take_passes() -> None:
    assert len(tighten(Take.from_bytes(_one_hit()), Recipe(for_audio="on")).changes) == 1


def _one_hit() -> bytes:
    return drum_take([(0, KICK)]).to_bytes()


def test_join_close_joins_until_all_fits() -> None:
    room = Room(4, 30, 5)
    at = np.array([0.0, 50, 140, 400])
    # 50 is too near to 0 for its own move, and then 140 is too near to 50 for what 0 has.
    spans = Spans(at, at, np.array([0.0, -20, -60, 0]), np.array([3.0, 1, 2, 4]))
    starts = join_close(spans, room)
    assert starts.tolist() == [0, 3]
    assert spans.blocks(starts).shift.tolist() == [0, 0]
    assert spans.blocks(starts).last.tolist() == [140, 400]


def test_the_hand_wins_over_the_guard_for_audio_too() -> None:
    # 250 ms to the next hat: the guard would leave half of that, the hand takes 150.
    take = drum_take(_groove())
    number = int(np.flatnonzero(take.hits().tick == 3 * 1920 + 240)[0]) + 1
    recipe = Recipe(grid="1/16", for_audio="on", nudge=({"hit": number, "ms": 150},))
    shift = tighten(take, recipe).changes.shift_ms
    assert shift[number - 1] == pytest.approx(150, abs=_TICK_MS)
