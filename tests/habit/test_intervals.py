"""Intervals as they are heard: worked numbers, and a second way to the same numbers."""

from statistics import median

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.lengths import examples

from evenhand.columns import Bools, Floats
from evenhand.habit import Pushes, Sounding, as_heard, evened_by
from evenhand.habit.intervals import nearest_of

BAR_MS = 2000.0
HAT, KICK = 0, 1


def played(ms: list[float], voice: list[int]) -> Sounding:
    """Hits in bars of two seconds; kicks are strokes."""
    kind = np.array(voice)
    return Sounding(
        np.array(ms) / BAR_MS + 1, np.full(len(ms), BAR_MS), kind, np.flatnonzero(kind == KICK)
    )


def groove(bars: int, late: dict[int, float]) -> Sounding:
    """A hat on each beat and a kick with the third, late by some ms in some bars."""
    rows = [(2000.0 * bar + 500 * beat, HAT) for bar in range(bars) for beat in (0, 1, 3)]
    rows += [(2000.0 * bar + 1000 + late.get(bar, 0.0), KICK) for bar in range(bars)]
    rows.sort()
    return played([ms for ms, _ in rows], [voice for _, voice in rows])


def moved(sounding: Sounding, kick: int, ms: float) -> Floats:
    shift = np.zeros(len(sounding.bars))
    shift[sounding.reference[kick]] = ms
    return shift


def test_both_intervals_beside_a_late_kick_get_nearer_by_what_it_moves() -> None:
    sounding = groove(9, {4: 40.0})
    gain = evened_by(sounding, moved(sounding, 4, -30.0))
    assert gain[4] == pytest.approx(60)
    assert np.isnan(np.delete(gain, 4)).all()


def test_a_kick_that_is_moved_too_far_or_away_gets_no_nearer() -> None:
    sounding = groove(9, {4: 20.0})
    assert evened_by(sounding, moved(sounding, 4, -40.0))[4] == pytest.approx(0, abs=1e-9)
    assert evened_by(sounding, moved(sounding, 4, 15.0))[4] == pytest.approx(-30)


def test_what_is_usual_is_what_the_bars_nearby_have_not_the_line() -> None:
    # Every kick but one lies 30 ms behind: that one gets nearer by going back as well.
    sounding = groove(9, {bar: 30.0 for bar in range(9) if bar != 4})
    assert evened_by(sounding, moved(sounding, 4, 30.0))[4] == pytest.approx(60)


def test_an_interval_that_fewer_than_four_bars_have_tells_nothing() -> None:
    assert np.isnan(evened_by(groove(4, {1: 40.0}), moved(groove(4, {}), 1, -30.0))).all()
    assert evened_by(groove(5, {1: 40.0}), moved(groove(5, {}), 1, -30.0))[1] == pytest.approx(60)
    # A neighbour of this bar only.
    hats = [2000.0 * bar + 300 for bar in (0, 1, 2)]
    kicks = [2000.0 * bar + 1000 for bar in range(9)]
    lone = played([*hats, *kicks], [HAT] * 3 + [KICK] * 9)
    assert np.isnan(evened_by(lone, moved(lone, 1, 20.0))[1])


def test_where_all_moves_alike_no_interval_changes() -> None:
    sounding = groove(9, {4: 40.0})
    assert np.isnan(evened_by(sounding, np.full(len(sounding.bars), -20.0))).all()


def test_what_is_struck_together_is_heard_as_one() -> None:
    sounding = groove(9, {4: 40.0})
    flams = played(
        [*((sounding.bars - 1) * BAR_MS).tolist(), *(2000.0 * bar + 520 for bar in range(9))],
        [*sounding.voice.tolist(), *[HAT] * 9],
    )
    kick = int(np.flatnonzero(flams.reference == sounding.reference[4])[0])
    assert evened_by(flams, moved(flams, kick, -30.0))[kick] == pytest.approx(60)


def test_strokes_that_go_together_carry_what_is_between_and_lone_ones_do_not() -> None:
    sounding = groove(3, {})
    move = np.array([10.0, 20.0, 0.0])
    carried = sounding.carried(move, np.array([False, False, False]))
    kicks = sounding.reference
    assert carried[kicks].tolist() == [10, 20, 0]
    assert carried[kicks[0] + 1] == pytest.approx(12.5)
    alone = sounding.carried(move, np.array([False, True, False]))
    assert alone[kicks].tolist() == [10, 20, 0]
    assert alone[kicks[1] - 1] == pytest.approx(2.5)
    assert not sounding.carried(np.zeros(3), np.zeros(3, bool)).any()


def push(score: float) -> Pushes:
    """Bar 5 (from 1), 20 ms late."""
    rows = (5, 5, 20.0, 5.0, 6.0, 0.0, 0.0, score)
    return Pushes(*(np.array([value]) for value in rows))


@pytest.mark.parametrize(("late", "score", "left"), [(20, -1.2, 1), (20, -2.1, 0), (0, -0.5, 0)])
def test_a_push_is_weighed_with_what_is_heard_at_its_borders(
    late: float, score: float, left: int
) -> None:
    # The kick alone fills its bar: both its intervals are at a border.
    hats = [2000.0 * bar + 500.0 for bar in range(9)]
    kicks = [2000.0 * bar + 1000 + (late if bar == 4 else 0) for bar in range(9)]
    sounding = played([*hats, *kicks], [HAT] * 9 + [KICK] * 9)
    place = np.concatenate([np.zeros(9), np.arange(1, 10) + 0.5])
    assert len(as_heard(push(score), sounding, place)) == left


def test_of_sorted_values_the_nearest_the_earlier_of_equals() -> None:
    found = nearest_of(np.array([1.0, 2.0, 4.0]), np.array([[0.0, 1.4, 1.5], [3.0, 3.1, 9.0]]))
    assert found.tolist() == [[1, 1, 1], [2, 4, 4]]


def by_hand(sounding: Sounding, shift: Floats) -> list[float]:
    """The same in plain numbers, one stroke after the other."""
    order = np.argsort(sounding.bars, kind="stable")
    onsets: list[list[int]] = []
    for hit in order.tolist():
        if onsets and (sounding.bars[hit] - sounding.bars[onsets[-1][-1]]) * BAR_MS <= 30:
            onsets[-1].append(hit)
        else:
            onsets.append([hit])
    when = [float(np.mean(sounding.bars[hits])) for hits in onsets]
    carried = [float(np.mean(shift[hits])) for hits in onsets]
    gains = []
    for hit in sounding.reference.tolist():
        own = next(index for index, hits in enumerate(onsets) if hit in hits)
        beside = [one for one in (own - 1, own + 1) if 0 <= one < len(onsets)]
        changes = any(abs(shift[hit] - carried[one]) > 0.5 for one in beside)
        alike = [
            other
            for other in sounding.reference.tolist()
            if sounding.voice[other] == sounding.voice[hit]
        ]
        gain, known = 0.0, False
        for one in beside:
            if abs(when[one] - sounding.bars[hit]) * BAR_MS > 1500:
                continue
            seen = []
            for step in (*range(-24, 0), *range(1, 25)):
                mine = min(sounding.bars[alike], key=lambda at: abs(at - sounding.bars[hit] - step))
                near = min(when, key=lambda at: abs(at - when[one] - step))
                ends = (mine - sounding.bars[hit] - step, near - when[one] - step)
                if all(abs(end) * BAR_MS <= 60 for end in ends):
                    seen.append(float(mine - near) * BAR_MS)
            if len(seen) >= 4:
                step_ms = float(sounding.bars[hit] - when[one]) * BAR_MS
                after = step_ms + float(shift[hit]) - carried[one]
                gain += abs(step_ms - median(seen)) - abs(after - median(seen))
                known = True
        gains.append(gain if known and changes and shift[hit] else float("nan"))
    return gains


@settings(max_examples=examples(80))
@given(st.integers(0, 10**6), st.integers(3, 12))
def test_a_second_way_finds_the_same(seed: int, bars: int) -> None:
    dice = np.random.default_rng(seed)
    base = [2000.0 * bar + 250 * eighth for bar in range(bars) for eighth in range(8)]
    kept = dice.random(len(base)) < 0.7
    ms = np.array(base)[kept] + dice.normal(0, 25, int(kept.sum()))
    voice = dice.integers(0, 3, len(ms))
    sounding = Sounding(ms / BAR_MS + 1, np.full(len(ms), BAR_MS), voice, np.flatnonzero(voice))
    move: Floats = np.where(dice.random(len(sounding.reference)) < 0.5, dice.normal(0, 20), 0.0)
    alone: Bools = dice.random(len(move)) < 0.5
    shift = sounding.carried(move, alone)
    assert evened_by(sounding, shift) == pytest.approx(by_hand(sounding, shift), nan_ok=True)


@settings(max_examples=examples(40))
@given(st.integers(0, 10**6))
def test_what_moves_as_it_did_last_is_not_asked_again(seed: int) -> None:
    dice = np.random.default_rng(seed)
    sounding = groove(12, {bar: float(dice.normal(0, 25)) for bar in range(12)})
    move: Floats = np.where(dice.random(12) < 0.6, dice.normal(0, 20, 12), 0.0)
    fewer: Floats = np.where(dice.random(12) < 0.2, 0.0, move)
    alone: Bools = dice.random(12) < 0.5
    last, shift = sounding.carried(move, alone), sounding.carried(fewer, alone)
    before, now = evened_by(sounding, last), evened_by(sounding, shift)
    again = evened_by(sounding, shift, last)
    asked = ~np.isnan(again)
    # Medians of many groups in one column are good to a millionth of a ms.
    assert again[asked] == pytest.approx(now[asked], abs=1e-6)
    # What was not asked again would have said what it said before, or does not move.
    for kick in np.flatnonzero(~asked & ~np.isnan(now)):
        assert now[kick] == pytest.approx(before[kick], abs=1e-6)
    assert np.isnan(evened_by(sounding, shift, shift)).all()
