"""Deliberate syncopation by worked examples: 120 bpm, 480 ticks, so 0.96 ticks per ms.

A sixteenth is 125 ms (120 ticks), the automatic window 12.5 ms (12 ticks). The last triplet of a
beat lies 40 ticks (41.7 ms) ahead of its fourth sixteenth.
"""

from typing import Any

import pytest
from tests.build import HAT, KICK, SNARE, Note, drum_take, plain_recipe
from tests.syncopated_takes import syncopated

from evenhand import Recipe, Result, tighten

BAR, BARS = 1920, 16
TRIPLET = 5 * BAR + 3 * 480 + 320
STAYED = "syncopation on a line of another grid"


def _groove(wide: int = 0) -> list[Note]:
    """Kick on 1 and 3, snare on 2 and 4; two in five that many ticks early, two late."""
    off = (-wide, wide, 0, wide, -wide)
    return [
        (480 * beat + off[beat % 5], (KICK, SNARE)[beat % 2]) for beat in range(4, 4 * BARS + 4)
    ]


def _run(extra: int | list[Note] = TRIPLET, *, wide: int = 0, **settings: Any) -> Result:
    notes = [(extra, KICK)] if isinstance(extra, int) else extra
    recipe = plain_recipe(**{"syncopation": "stay", "strength": 100, **settings})
    return tighten(drum_take(sorted([*_groove(wide), *notes])), recipe)


def _fate(result: Result, tick: int = TRIPLET) -> tuple[str, str, float]:
    """Action, reason and move (in ticks) of the hit at a place."""
    changes = result.changes
    hit = changes.hits.tick.tolist().index(tick)
    move = float(changes.tick_after[hit] - tick)
    return str(changes.action[hit]), str(changes.reason[hit]), move


def test_triplet_kick_stays_and_is_told() -> None:
    result = _run()
    assert _fate(result) == ("kept", STAYED, 0)
    hit = result.changes.hits.tick.tolist().index(TRIPLET)
    assert result.changes.line[hit] == TRIPLET
    assert result.changes.deviation_before[hit] == 0
    (flag,) = result.flags
    assert (flag.kind, str(flag.place), flag.hits) == ("syncopation", "6:4.667", (hit + 1,))
    assert flag.weight == pytest.approx(40 / 0.96, abs=0.001)
    assert flag.text == "kick at -41.7 ms was left there: it stands on a line of another grid"


@pytest.mark.parametrize(
    ("chosen", "action"),
    [
        ({"syncopation": "move"}, "moved"),
        # Whoever gives the grid says what is on it.
        ({"syncopation": "auto"}, "moved"),
        ({"syncopation": "auto", "grid": "auto"}, "kept"),
        # What lies between straight and triplets already has no other subdivision.
        ({"swing": 54.0}, "moved"),
        # It says of each section what holds there.
        ({"section": [{"bars": "1-8", "syncopation": "move"}]}, "moved"),
        ({"section": [{"bars": "9-16", "syncopation": "move"}]}, "kept"),
    ],
)
def test_dial(chosen: dict[str, Any], action: str) -> None:
    # Sixteenths on the hat, so that a grid that is looked for is 1/16.
    hats: list[Note] = [(BAR + 120 * step, HAT) for step in range(16 * BARS)]
    result = _run([(TRIPLET, KICK), *hats], **chosen)
    assert [grid and grid.name for grid in result.ground.layout.grids][:1] == ["1/16"]
    assert _fate(result)[0] == action


@pytest.mark.parametrize(
    ("off", "window", "stays"),
    [
        (12, "auto", True),
        (13, "auto", False),
        (-12, "auto", True),
        (-13, "auto", False),
        # At most half as far from the triplet as from the sixteenth: 13 and 27 ticks, 14 and 26.
        (13, 20.0, True),
        (14, 20.0, False),
    ],
)
def test_how_near_to_the_other_line(off: int, window: float | str, stays: bool) -> None:
    result = _run(TRIPLET + off, window=window, reach=50)
    assert (_fate(result, TRIPLET + off)[1] == STAYED) == stays


def test_the_lean_moves_the_other_line_as_well() -> None:
    # All 14 ticks early: so is the triplet, 14 ticks from its line and 0 from where it is due.
    notes = [(tick - 14, *rest) for tick, *rest in _groove()]
    early = drum_take(sorted([*notes, (TRIPLET - 14, KICK)]))
    for lean, action in ((100, "kept"), (0, "moved")):
        recipe = plain_recipe(lean=lean, syncopation="stay", reach=50)
        assert _fate(tighten(early, recipe), TRIPLET - 14)[0] == action


@pytest.mark.parametrize(("wide", "stays"), [(8, True), (9, False)])
def test_what_scatter_explains_is_none(wide: int, stays: bool) -> None:
    # The median of the distances is `wide`, three spreads are 4.448 times that: 35.6, 40.03.
    assert (_fate(_run(wide=wide))[1] == STAYED) == stays


@pytest.mark.parametrize(("late", "stays"), [(0, False), (8, True)])
def test_scatter_is_measured_around_the_middle_of_the_section(late: int, stays: bool) -> None:
    # With all else late by 8 ticks, the triplet is 48 off the middle: more than 44.48.
    notes = [(tick + late, *rest) for tick, *rest in _groove(wide=10)]
    result = tighten(drum_take(sorted([*notes, (TRIPLET, KICK)])), plain_recipe(syncopation="stay"))
    assert (_fate(result)[1] == STAYED) == stays


@pytest.mark.parametrize(("bars", "stays"), [(3, True), (4, False)])
def test_slip_from_a_line_that_is_usually_struck(bars: int, stays: bool) -> None:
    # A quarter of 16 bars (the triplet's own counts as one to be looked at, not to go by).
    usual = [(BAR * (8 + bar) + 3 * 480 + 360, KICK) for bar in range(bars)]
    assert (_fate(_run([(TRIPLET, KICK), *usual]))[1] == STAYED) == stays
    # Another piece there says nothing, nor does another place.
    others = [(BAR * (8 + bar) + 3 * 480 + 360, SNARE) for bar in range(bars)]
    others += [(BAR * (8 + bar) + 2 * 480 + 360, KICK) for bar in range(bars)]
    assert _fate(_run([(TRIPLET, KICK), *others]))[1] == STAYED


def test_few_bars_of_a_section_ask_the_take() -> None:
    # In the rest of the take the line is usually struck; in bars 6 to 9 it isn't.
    usual = [(BAR * bar + 3 * 480 + 360, KICK) for bar in range(9, 16)]
    for bars, action in (("6-8", "moved"), ("6-9", "kept")):
        section = [{"bars": bars, "syncopation": "stay"}]
        result = _run([(TRIPLET, KICK), *usual], section=section)
        assert _fate(result)[0] == action


@pytest.mark.parametrize(("strokes", "stays"), [(7, False), (8, True)])
def test_few_strokes_tell_no_scatter(strokes: int, stays: bool) -> None:
    notes: list[Note] = [(480 * beat, KICK) for beat in range(1, strokes)]
    late = 480 * 8 + 160
    result = tighten(drum_take([*notes, (late, KICK)]), plain_recipe(syncopation="stay"))
    assert (_fate(result, late)[1] == STAYED) == stays


def test_straight_kick_among_triplets() -> None:
    notes: list[Note] = [(160 * step, (KICK, HAT, SNARE)[step % 3]) for step in range(12, 180)]
    straight = 480 * 20 + 120
    result = tighten(
        drum_take(sorted([*notes, (straight, KICK)])),
        plain_recipe(grid="1/8T", syncopation="stay", ghost_below=1),
    )
    assert _fate(result, straight)[1] == STAYED
    (flag,) = result.flags
    assert str(flag.place) == "6:1.25"


def test_what_is_struck_with_it_stays_with_it() -> None:
    result = _run([(TRIPLET, KICK), (TRIPLET + 8, SNARE, 80)])
    assert _fate(result, TRIPLET + 8) == ("kept", "with its stroke", 0)


def test_spans_leave_it() -> None:
    # All around is 25 ticks late and moves as one span.
    notes: list[Note] = [(480 * beat + 25, KICK) for beat in range(4, 68)]
    result = tighten(
        drum_take(sorted([*notes, (TRIPLET, KICK)])),
        plain_recipe(plan="spans", syncopation="stay"),
    )
    assert _fate(result) == ("kept", STAYED, 0)
    assert result.plan.span.max() == 2


def test_hold_has_its_own_reason() -> None:
    result = _run(hold=("6:4.5-6:4.9",))
    assert _fate(result)[:2] == ("held", "in a hold")
    assert result.flags == ()


@pytest.mark.parametrize("hat", [8, 16])
def test_slips_move_and_syncopation_stays(hat: int) -> None:
    """Invented takes at tempi where 45 ms is within reach, with a scatter of 4 ms."""
    slips = meant = stayed = 0
    for bpm in (72, 90, 108, 120):
        one = syncopated(bpm, 4, hat, seed=bpm + hat)
        result = tighten(one.take, Recipe(sections="none", reach=40))
        assert (result.changes.action[list(one.slips)] == "moved").all()
        slips += len(one.slips)
        move = abs(result.changes.shift_ms[list(one.meant)])
        meant, stayed = meant + len(move), stayed + int((move <= 2).sum())
    assert slips == meant == 16
    assert stayed == 16


def test_what_is_inside_its_window_needs_no_other_line() -> None:
    assert _fate(_run(window=42.0)) == ("kept", "inside the window", 0)
