"""What stands out, and what becomes of it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.build import drum_take
from tests.habit.test_lines_and_habit import HAT, KICK, SNARE, at, belonging, groove

from evenhand import Recipe, tighten
from evenhand.ground import Ground, prepare
from evenhand.habit import LIMIT, Sounding, find_sounding, find_voices
from evenhand.kit import TIMEKEEPER
from evenhand.measure import noticed
from evenhand.plan import standing_out
from evenhand.plan.standing_out import (
    DOUBTFUL,
    HEARD_MS,
    KEPT,
    MOVED,
    TIGHT_TIMES,
    TOO_FAR,
    UNEVEN,
    Heard,
    Verdict,
    Wishes,
    _sounds_worse,
    judge,
    limit_for,
)

_FATES = {MOVED, KEPT, DOUBTFUL, TOO_FAR, UNEVEN}


def verdict(ground: Ground, wishes: Wishes | None = None) -> Verdict:
    hits, strokes, found = ground.hits, ground.strokes, belonging(ground)
    reference = strokes.reference
    heard = Heard(
        *(found, reference, hits.role == TIMEKEEPER, strokes.anchor, hits.velocity),
        *(find_voices(hits), noticed(found.line[reference], ground.time)),
        find_sounding(ground.tick, find_voices(hits), reference, ground.time),
    )
    return judge(heard, wishes or Wishes())


def stroke(ground: Ground, bar: int, beat: float, note: int) -> int:
    return int(ground.strokes.of_hit[at(ground, bar, beat, note)])


def scattered(ms: float, bars: int = 24) -> Ground:
    """The groove with every stroke and hat off by a bell of some width."""
    random = np.random.default_rng(5)
    rows = [*((beat / 2, HAT) for beat in range(8)), (0, KICK), (1, SNARE), (2, KICK), (3, SNARE)]
    return groove(
        bars,
        {
            (bar, beat, note): float(random.normal(0, ms))
            for bar in range(bars)
            for beat, note in rows
        },
    )


def test_one_late_kick_moves_by_the_strength_of_its_whole_excess_and_nothing_else_does() -> None:
    ground = groove(16, {(7, 2, KICK): 45.0})
    found = verdict(ground)
    late = stroke(ground, 7, 2, KICK)
    assert np.flatnonzero(found.fate == MOVED).tolist() == [late]
    assert abs(found.shift[late] + 0.75 * found.excess[late]) < 1e-9
    assert -40 < found.shift[late] < -25
    assert found.alone[late]
    assert not found.shift[np.arange(len(found.shift)) != late].any()


def test_a_move_that_brings_the_intervals_no_nearer_to_the_usual_is_not_made() -> None:
    # Of what the move could even at the most, three tenths are asked for, as it moves alone.
    ground = groove(16, {(7, 2, KICK): 45.0})
    late = stroke(ground, 7, 2, KICK)
    found = verdict(ground)
    with pytest.MonkeyPatch.context() as patch:
        for share, fate in ((0.29, UNEVEN), (0.31, MOVED)):
            gain = 2 * share * np.abs(found.shift)
            patch.setattr(standing_out, "evened_by", lambda *_, gain=gain: gain)
            assert verdict(ground).fate[late] == fate


def test_a_kick_that_is_late_in_nearly_every_bar_stays() -> None:
    late = {(bar, 2, KICK): 40.0 for bar in range(16) if bar != 5}
    ground = groove(16, late)
    found = verdict(ground)
    kicks = [stroke(ground, bar, 2, KICK) for bar in range(16) if bar != 5]
    assert (found.fate[kicks] == KEPT).all()


def test_what_would_move_further_than_asked_is_left_where_it_is() -> None:
    ground = groove(16, {(7, 2, KICK): 45.0})
    late = stroke(ground, 7, 2, KICK)
    found = verdict(ground, Wishes(most=20.0))
    assert found.fate[late] == TOO_FAR
    assert found.shift[late] == 0


def test_with_lean_and_habit_at_0_the_target_is_the_line() -> None:
    found = verdict(scattered(6.0), Wishes(lean=0.0, habit=0.0))
    assert not found.usual.any()
    assert np.allclose(found.excess, found.deviation)


def test_a_tight_player_is_left_alone_and_a_loose_one_is_helped() -> None:
    tight, loose = verdict(scattered(5.0)), verdict(scattered(30.0, 48))
    assert tight.looseness == 0
    assert loose.looseness > 0.5
    assert (tight.fate == MOVED).mean() < 0.08
    assert (loose.fate == MOVED).mean() > 0.15
    # What anyone hears caps both; the tight one's cap is twice as wide.
    assert tight.late.max() <= TIGHT_TIMES * HEARD_MS[1] + 1e-9
    cap = HEARD_MS[1] * (TIGHT_TIMES - (TIGHT_TIMES - 1) * loose.looseness)
    assert loose.late.max() <= cap + 1e-9


def test_the_dial_goes_from_just_noticed_to_plainly_heard() -> None:
    assert limit_for(50) == LIMIT
    ground = scattered(14.0)
    moved = [
        int((verdict(ground, Wishes(limit=limit_for(dial))).fate != KEPT).sum())
        for dial in (0, 25, 50, 75, 100)
    ]
    assert moved == sorted(moved, reverse=True)
    assert moved[0] > moved[-1]


def test_a_kick_that_fits_the_lagging_hats_around_it_is_left_and_said_to_be() -> None:
    # The hat struck with it keeps its time; those before and behind lag as the kick does.
    for lag, fate in ((0.0, MOVED), (36.0, UNEVEN)):
        late = {(7, 2, KICK): 40.0, (7, 1.5, HAT): lag, (7, 2.5, HAT): lag}
        ground = groove(16, late)
        found = verdict(ground)
        one = stroke(ground, 7, 2, KICK)
        assert found.fate[one] == fate
        assert (found.shift[one] == 0) == (fate == UNEVEN)


@pytest.mark.parametrize(("late", "worse"), [(25, True), (27, False)])
def test_who_moves_alone_must_be_heard_to_fit(late: float, worse: bool) -> None:
    # Hats in eighths of bars of 2 s, a kick in the second sixteenth of each; one of them is late
    # and moves back by 40 ms: both intervals get 40 - late ms off, which takes 4 x late - 80 ms
    # away of 80 at the most. Three tenths are 24 ms, from 26 ms on.
    bars = np.arange(12.0)
    kick = bars + 1 / 16
    kick[6] += late / 2000
    hits = np.concatenate([np.arange(96) / 8, kick])
    voice = np.repeat([0, 1], (96, 12))
    sounding = Sounding(hits, np.full(108, 2000.0), voice, np.arange(96, 108))
    move = np.where(bars == 6, -40.0, 0.0)
    shift = sounding.carried(move, move != 0)
    found = _sounds_worse(sounding, shift, None, move != 0, 0.0)
    assert found[6] == worse
    assert not np.delete(found, 6).any()


def test_a_pushed_bar_moves_as_one() -> None:
    rows = [*((beat / 2, HAT) for beat in range(8)), (0, KICK), (1, SNARE), (2, KICK), (3, SNARE)]
    ground = groove(24, {(bar, beat, note): -32.0 for bar in (8, 9) for beat, note in rows})
    found = verdict(ground)
    inside = [stroke(ground, bar, beat, KICK) for bar in (8, 9) for beat in (0, 2)]
    assert len(found.pushes) == 1
    assert len(set(found.shift[inside].round(6))) == 1
    assert 17 < found.shift[inside[0]] < 33
    assert (found.fate[inside] == KEPT).all()
    assert found.pushed[at(ground, 4, 1, SNARE)] == 0


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 7), st.sampled_from([0.0, 1.0, 2.0, 3.0]), st.floats(-90, 90)),
        max_size=12,
    ),
    st.floats(0, 100),
    st.floats(0, 100),
)
def test_whatever_is_played_each_verdict_is_sound(
    slips: list[tuple[int, float, float]], strength: float, dial: float
) -> None:
    shifts = {(bar, beat, KICK if beat in (0, 2) else SNARE): ms for bar, beat, ms in slips}
    found = verdict(groove(8, shifts), Wishes(strength=strength, limit=limit_for(dial)))
    assert set(found.fate.tolist()) <= _FATES
    own = found.shift + strength / 100 * np.append(found.pushes.ms, 0.0)[found.push]
    outside = (found.excess < found.early) | (found.excess > found.late)
    assert (outside == (found.fate != KEPT)).all()
    assert (np.abs(own)[found.fate != MOVED] < 1e-9).all()
    assert (np.abs(found.shift) <= 60 + np.abs(np.append(found.pushes.ms, 0.0)[found.push])).all()
    assert (found.early <= 0).all()
    assert (found.late >= 0).all()
    # A move goes towards its target and never past it.
    moved = found.fate == MOVED
    assert (own[moved] * found.excess[moved] <= 0).all()
    assert (np.abs(own[moved]) <= np.abs(found.excess[moved]) + 1e-9).all()
    assert not (found.alone & found.carried_run).any()


def test_nothing_breaks_where_nearly_nothing_is_played() -> None:
    for notes in ([(0, KICK, 100)], [(0, HAT, 100), (480, HAT, 100)], [(0, SNARE, 100)] * 3):
        found = verdict(prepare(drum_take(notes), Recipe(grid="1/16", sections="none")))
        assert not found.shift.any()


def test_the_dial_is_a_setting() -> None:
    take = scattered(14.0).source
    moved = [
        int((tighten(take, Recipe(notice=dial)).plan.shift != 0).sum()) for dial in (0, 50, 100)
    ]
    assert moved[0] > moved[1] >= moved[2]
