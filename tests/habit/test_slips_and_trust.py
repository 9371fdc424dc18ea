"""How far a stroke may be off before it stands out, and whether its line is trusted."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from tests.habit.test_lines_and_habit import HAT, KICK, SNARE, at, belonging, groove

from evenhand.ground import Ground
from evenhand.habit import Belonging, Marks, find_marks, find_steps, find_voices, trust
from evenhand.habit.slips import WEIGHTS


def marks(ground: Ground, found: Belonging) -> Marks:
    hits = ground.hits
    voice = find_voices(hits)
    return find_marks(
        *(found, ground.strokes.reference, hits.note == HAT),
        *(ground.strokes.anchor, hits.velocity, voice),
    )


@given(
    st.floats(-80, 80),
    st.floats(4, 40),
    st.lists(st.floats(-4, 4), min_size=len(WEIGHTS), max_size=len(WEIGHTS)),
    st.floats(-6, 1),
)
def test_a_stroke_is_outside_its_bounds_just_where_its_odds_reach_the_limit(
    off: float, spread: float, side: list[float], limit: float
) -> None:
    row = np.array([side])
    one = Marks(np.array([off]), np.array([spread]), np.stack([row, row]))
    early, late = one.bounds(limit)
    score = one.score()[0]
    outside = off < -early[0] or off > late[0]
    if abs(score - limit) > 1e-6:
        assert outside == (score > limit) or off == 0
    assert early[0] >= 0
    # A lower limit never lets a stroke be further off.
    assert (one.bounds(limit - 1) <= one.bounds(limit)).all()


def test_a_slip_scores_above_all_else_and_the_steady_hat_tells_it() -> None:
    ground = groove(16, {(7, 2, KICK): 45.0})
    told = marks(ground, belonging(ground)).score()
    stroke = ground.strokes.of_hit[at(ground, 7, 2, KICK)]
    assert int(np.argmax(told)) == stroke
    along = groove(16, {(7, 2, KICK): 45.0, (7, 2, HAT): 45.0})
    assert marks(along, belonging(along)).score()[stroke] != told[stroke]


def test_bounds_rest_on_nothing_of_the_stroke_but_its_side() -> None:
    # The bounds of the kick are the same whether it is 30 or 45 ms late.
    bounds = []
    for late in (30.0, 45.0):
        ground = groove(16, {(7, 2, KICK): late})
        one = marks(ground, belonging(ground)).bounds()
        bounds.append(one[:, ground.strokes.of_hit[at(ground, 7, 2, KICK)]])
    assert np.abs(bounds[0] - bounds[1]).max() < 3


def test_what_is_off_along_with_a_stroke_speaks_against_it_as_if_on_the_other_side() -> None:
    ground = groove(16, {(7, 2, KICK): 45.0, (7, 2, HAT): 30.0, (7, 2.5, HAT): 20.0})
    early, late = marks(ground, belonging(ground)).side
    stroke = ground.strokes.of_hit[at(ground, 7, 2, KICK)]
    along = [name for name in WEIGHTS if name.endswith(" along")]
    assert along == ["hat along", "next along", "stroke before along", "bars along"]
    for column, name in enumerate(WEIGHTS):
        sign = -1 if name in along else 1
        assert (early[:, column] == sign * late[:, column]).all(), name
    # The hat that is late speaks for a late stroke.
    assert late[stroke, list(WEIGHTS).index("hat along")] > 2


def _trust(ground: Ground, hit: int) -> float:
    found = belonging(ground)
    reference = ground.strokes.reference
    share = trust.gap_share(found)
    move = np.where(np.abs(found.off[reference]) > 30, -found.off[reference], 0.0)
    steps = find_steps(found, reference, found.off).change(move)
    told = trust.find_trust(
        found, reference, ground.strokes.anchor, share, steps / np.maximum(2 * np.abs(move), 1e-9)
    )
    score = told @ np.array(list(trust.WEIGHTS.values()))
    return float(score[ground.strokes.of_hit[hit]])


def test_a_kick_between_lines_is_trusted_less_where_others_lie_between_as_well() -> None:
    alone = groove(16, {(7, 2, KICK): 55.0})
    others = {(bar, beat, note): 55.0 for bar in (5, 6, 8, 9) for beat, note in ((1, SNARE),)}
    among = groove(16, {(7, 2, KICK): 55.0, **others})
    assert _trust(alone, at(alone, 7, 2, KICK)) > trust.LIMIT
    assert _trust(among, at(among, 7, 2, KICK)) < _trust(alone, at(alone, 7, 2, KICK)) - 0.5


def test_steps_tell_what_a_move_does_to_the_intervals() -> None:
    ground = groove(16, {(7, 2, KICK): 40.0})
    found = belonging(ground)
    stroke = ground.strokes.of_hit[at(ground, 7, 2, KICK)]
    steps = find_steps(found, ground.strokes.reference, found.off)
    move = np.zeros(len(ground.strokes))
    move[stroke] = -40.0
    # Nearly all of the move takes unevenness away on both sides.
    assert steps.change(move)[stroke] < -60
    assert steps.change(-move)[stroke] > 60
    assert abs(steps.change(np.zeros(len(move)))[stroke]) < 1e-9


def test_a_run_carried_along_keeps_the_steps_that_lead_to_the_stroke() -> None:
    # The hat before beat 3 lags as the kick does: moving the kick alone makes that step uneven.
    late = {(7, 2, KICK): 36.0, (7, 2, HAT): 36.0, (7, 1.5, HAT): 30.0, (7, 2.5, HAT): 30.0}
    ground = groove(16, late)
    found = belonging(ground)
    stroke = ground.strokes.of_hit[at(ground, 7, 2, KICK)]
    steps = find_steps(found, ground.strokes.reference, found.off)
    move = np.zeros(len(ground.strokes))
    move[stroke] = -27.0
    assert steps.change(move)[stroke] > steps.change(move, run=True)[stroke] + 10
