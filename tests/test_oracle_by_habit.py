"""The judgement by habit against one in plain Python, hit by hit (tests/oracle_by_habit.py)."""

import random

import numpy as np
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from tests import oracle_by_habit as oracle
from tests.build import HAT, KICK, SNARE, TOM, drum_take
from tests.lengths import examples

from evenhand import Recipe, tighten

_BARS = 12


def _groove(seed: int, scatter: float, slips: int, bpm: float) -> list[tuple[int, int, int]]:
    """A groove with scatter, a lean, a late backbeat, some slips and some odd hits."""
    dice = random.Random(seed)
    per_ms = 480 * bpm / 60_000
    lean = dice.uniform(-12, 12)
    notes = []
    for bar in range(1, 1 + _BARS):
        steps = [(step, HAT, 60 + 20 * (step % 4 == 0)) for step in range(0, 16, 2)]
        steps += [(step, KICK, 100) for step in (0, 7, 10) if step == 0 or dice.random() < 0.7]
        steps += [(step, SNARE, 104) for step in (4, 12)]
        steps += [(step, SNARE, 28) for step in (6, 9) if dice.random() < 0.4]
        if dice.random() < 0.2:
            steps.append((dice.randrange(16), TOM, 90))
        for step, note, velocity in steps:
            late = 9 if (note, velocity) == (SNARE, 104) else 0
            off = lean + late + dice.gauss(0, scatter)
            notes.append([bar * 1920 + step * 120 + off * per_ms, note, velocity])
    for one in dice.sample(notes, slips):
        one[0] += dice.choice([-1, 1]) * dice.uniform(25, 60) * per_ms
    return sorted((round(tick), note, velocity) for tick, note, velocity in notes)


@given(
    st.integers(0, 10**6),
    st.sampled_from([3.0, 8.0, 16.0]),
    st.integers(0, 8),
    st.sampled_from([84.0, 120.0, 150.0]),
    st.sampled_from([0, 50, 100]),
    st.sampled_from([0, 60, 100]),
)
@settings(max_examples=examples(40), deadline=None)
def test_lines_targets_and_shifts(
    seed: int, scatter: float, slips: int, bpm: float, lean: int, habit: int
) -> None:
    recipe = Recipe(
        grid="1/16", sections="none", fills="tight", ornaments="off", tempo_as_filed="on",
        lean=lean, habit=habit, strength=70, most=45,
    )  # fmt: skip
    result = tighten(drum_take(_groove(seed, scatter, slips, bpm), bpm=bpm), recipe)
    found = result.plan.habit
    assert found is not None
    hits, verdict = result.hits, found.verdict
    # A ghost of any drum but the kick is another voice than its accents.
    voices = [
        "ghost" if role == "ghost" and piece != "kick" else str(piece)
        for piece, role in zip(hits.piece.tolist(), hits.role.tolist(), strict=True)
    ]
    # A file counts whole microseconds to the quarter.
    try:
        judged = oracle.judge(voices, hits.tick.tolist(), round(60e6 / bpm) / 1000 / 480)
    except oracle.TieError:
        reject()
    assert found.line.tolist() == [one.line for one in judged]
    if len(verdict.pushes):
        return
    off = [one.deviation - one.lean - one.habit - one.drift for one in judged]
    assert verdict.off == pytest.approx(off, abs=1e-6)
    for stroke, hit in enumerate(result.strokes.reference.tolist()):
        one = judged[hit]
        usual = lean / 100 * (one.lean + one.drift) + habit / 100 * one.habit
        excess = one.deviation - usual
        assert verdict.usual[stroke] == pytest.approx(usual, abs=1e-6)
        early, late = verdict.early[stroke], verdict.late[stroke]
        inside = early <= excess <= late
        # On a bound to the last digit, which side it lies on is a matter of rounding.
        if min(excess - early, late - excess, key=abs) != pytest.approx(0, abs=1e-9):
            assert (verdict.fate[stroke] == "kept") == inside
        far = not inside and 0.7 * abs(excess) > 45
        assert far <= (verdict.fate[stroke] in ("too far", "doubtful"))
        moved = verdict.fate[stroke] == "moved"
        # A hit alone may stop at the first hit of another limb that it would pass: no further.
        assert verdict.shift[stroke] == pytest.approx(
            -0.7 * excess if moved else 0.0, abs=1e-6
        ) or (moved and abs(verdict.shift[stroke]) < 0.7 * abs(excess) and found.alone[stroke])


def test_it_moves_some_and_keeps_most() -> None:
    # What the comparison rests on: there are strokes of both kinds in such grooves.
    fates = []
    for seed in range(6):
        result = tighten(drum_take(_groove(seed, 8.0, 6, 120.0)), Recipe(grid="1/16"))
        assert result.plan.habit is not None
        fates += result.plan.habit.verdict.fate.tolist()
    some = np.array(fates)
    assert 10 <= (some == "moved").sum() < 0.2 * len(some)
