"""Nudges of one hit or piece: its limb goes alone, and nothing that is not there is nudged."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.build import HAT, KICK, SNARE, Note, drum_take, plain_recipe

from evenhand import Recipe, Result, SettingError, tighten

_BAR = 1920
#: Ticks of 10 ms at 120 bpm and 480 ticks per quarter, rounded.
_TEN_MS = 10


def _beat() -> list[Note]:
    """Eight bars on the lines: hats in eighths, kicks with the snare on 2."""
    notes: list[Note] = []
    for bar in range(8):
        start = _BAR * bar
        notes += [(start + 240 * step, HAT, 60) for step in range(8)]
        notes += [(start, KICK), (start + 480, KICK), (start + 480, SNARE), (start + 1440, SNARE)]
    return sorted(notes)


def _moved(nudge: dict[str, object], recipe: Recipe | None = None) -> dict[tuple[int, str], int]:
    """Ticks and pieces of the hits that moved, and by how many ticks."""
    changes = _run(nudge, recipe).changes
    shift = changes.tick_after - changes.hits.tick
    return {
        (int(changes.hits.tick[hit]), str(changes.hits.piece[hit])): int(shift[hit])
        for hit in np.flatnonzero(shift)
    }


def _run(nudge: dict[str, object], recipe: Recipe | None = None) -> Result:
    recipe = recipe or Recipe(grid="1/16", sections="none")
    return tighten(drum_take(_beat()), recipe.with_settings({"nudge": [nudge]}))


def test_the_limb_of_a_piece_goes_alone() -> None:
    place = 3 * _BAR + 480
    assert _moved({"at": "4:2", "piece": "snare", "ms": 10}) == {(place, "snare"): _TEN_MS}
    assert _moved({"at": "4:2", "piece": "kick", "ms": -10}) == {(place, "kick"): -_TEN_MS}
    # Hats around it are carried in proportion, as by any move; no other limb is.
    moved = _moved({"at": "4:2", "piece": "hat", "ms": 10})
    assert moved[place, "hat"] == _TEN_MS
    assert {piece for _, piece in moved} == {"hat"}


def test_all_limbs_go_together_if_wanted() -> None:
    place = 3 * _BAR + 480
    moved = _moved({"at": "4:2", "piece": "snare", "ms": 10, "together": True})
    assert [moved[place, piece] for piece in ("snare", "kick", "hat")] == [_TEN_MS] * 3


def test_the_first_stroke_goes_together_too() -> None:
    nudge: dict[str, object] = {"at": "1:1", "piece": "kick", "ms": 10, "together": True}
    recipe = Recipe(grid="1/16", sections="none", nudge=(nudge,))
    result = tighten(drum_take([(0, SNARE), *_beat()]), recipe)
    assert result.changes.hits.piece[result.carry.nudged].tolist() == ["snare", "kick"]
    assert set(result.changes.tick_after[result.carry.nudged].tolist()) == {_TEN_MS}


def test_with_one_map_for_all_they_always_do() -> None:
    nudge: dict[str, object] = {"at": "4:2", "piece": "snare", "ms": 10}
    for recipe in (
        Recipe(grid="1/16", sections="none", carry="together"),
        plain_recipe(window=15, reach=40),
    ):
        moved = _moved(nudge, recipe)
        assert [moved[3 * _BAR + 480, piece] for piece in ("snare", "kick", "hat")] == [_TEN_MS] * 3


def test_a_hit_by_its_number() -> None:
    number = next(
        index
        for index, note in enumerate(_beat(), 1)
        if note[:2] == (3 * _BAR + 1440, SNARE)
    )  # fmt: skip
    moved = _moved({"hit": number, "ms": 10})
    assert moved == {(3 * _BAR + 1440, "snare"): _TEN_MS}
    changes = _run({"hit": number, "ms": 10}).changes
    assert (changes.action[number - 1], changes.reason[number - 1]) == ("moved", "nudged by hand")
    with pytest.raises(SettingError, match="hit 9999: test take has 96 hits"):
        _run({"hit": 9999, "ms": 10})


def test_a_limb_that_goes_alone_passes_nothing() -> None:
    # The next hat lies 240 ticks behind: the snare gets there and no further.
    assert _moved({"at": "4:2", "piece": "snare", "ms": 900}) == {(3 * _BAR + 480, "snare"): 240}


def test_what_is_not_there_is_refused_with_what_is_near() -> None:
    # 60 ticks are a thirty-second: 4:2.125 is just one away from 4:2, 4:2.13 is more.
    assert len(_moved({"at": "4:2.125", "piece": "snare", "ms": 10})) == 1
    with pytest.raises(SettingError) as refused:
        _run({"at": "4:2.13", "piece": "snare", "ms": 10})
    numbers = [index for index, note in enumerate(_beat(), 1) if note[1] == SNARE]
    assert str(refused.value) == (
        "nudge: there is no snare within a thirty-second of 4:2.13; nearest: "
        f"4:2 (hit {numbers[6]}), 4:4 (hit {numbers[7]}), 3:4 (hit {numbers[5]})"
    )


@settings(max_examples=25)
@given(st.integers(13, 84), st.integers(-700, 700), st.booleans())
def test_a_nudged_hit_goes_as_far_as_there_is_room(number: int, ms: int, together: bool) -> None:
    changes = _run({"hit": number, "ms": ms, "together": together}).changes
    before, after, piece = changes.hits.tick, changes.tick_after, changes.hits.piece
    hit = number - 1
    # Alone it passes no hit; all together press those between them and the next stroke.
    others = before[np.isin(piece, ["kick", "snare"]) | (not together)] - before[hit]
    least, most = others[others < 0].max(initial=-9999), others[others > 0].min(initial=9999)
    assert after[hit] - before[hit] == round(np.clip(0.96 * ms, least, most))
    assert (changes.action[hit], changes.reason[hit]) == ("moved", "nudged by hand")
    # What was struck in an order still is, what was struck together moves together if so wanted.
    for one in (piece == piece[hit], np.ones(len(piece), np.bool_) if together else before < 0):
        assert (np.diff(after[one]) >= 0).all()
    beside = (before == before[hit]) & (np.arange(len(before)) != hit)
    assert (after[beside] == (after[hit] if together else before[beside])).all()
    if piece[hit] != "hat":
        # Who is struck in one stroke is nudged with it only if so wanted.
        mates = beside & (piece != "hat")
        assert ((changes.reason[mates] == "nudged by hand") == together).all()
    if not together:
        assert {*piece[after != before]} <= {piece[hit]}


def test_the_stroke_of_a_nudged_hit_has_its_shift() -> None:
    for together in (False, True):
        result = _run({"at": "4:4", "piece": "snare", "ms": 10, "together": together})
        hit = int(np.flatnonzero(result.hits.tick == 3 * _BAR + 1440)[-1])
        stroke = result.strokes.of_hit[np.flatnonzero(result.changes.action == "moved")].max()
        assert result.carry.shift[stroke] == pytest.approx(9.6, abs=1e-6)
        assert result.carry.alone[stroke] == (not together)
        assert not result.carry.squeezed[stroke]
        assert np.count_nonzero(result.carry.shift) == 1
        assert result.changes.action[hit] in ("moved", "carried")
    # A kick that goes alone is not what stands for its stroke, if the snare is.
    result = _run({"at": "4:2", "piece": "kick", "ms": 10})
    stroke = int(result.strokes.of_hit[result.changes.action == "moved"].max())
    stands = str(result.hits.piece[result.strokes.reference[stroke]])
    assert (result.carry.shift[stroke] != 0) == (stands == "kick")


def test_the_last_hit_has_a_number_and_the_one_behind_it_has_none() -> None:
    count = len(_beat())
    changes = _run({"hit": count, "ms": -10}).changes
    assert changes.action[-1] == "moved"
    with pytest.raises(SettingError, match=f"hit {count + 1}: test take has {count} hits"):
        _run({"hit": count + 1, "ms": -10})


def test_a_hit_goes_by_the_name_of_its_line_too() -> None:
    # The snare of 4:4 comes 70 ticks late: more than a thirty-second, but its line is there.
    notes = [note for note in _beat() if note[:2] != (3 * _BAR + 1440, SNARE)]
    notes = sorted([*notes, (3 * _BAR + 1510, SNARE)])
    recipe = plain_recipe(grid="1/8", window=100, reach=60)
    nudge = {"at": "4:4", "piece": "snare", "ms": 10}
    result = tighten(drum_take(notes), recipe.with_settings({"nudge": [nudge]}))
    late = notes.index((3 * _BAR + 1510, SNARE))
    assert result.changes.line[late] == 3 * _BAR + 1440
    assert result.changes.reason[late] == "nudged by hand"
