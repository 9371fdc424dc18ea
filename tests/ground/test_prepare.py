"""The ground prepared again: the same as from scratch, and no more work than is needed."""

from typing import Any

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_take

from evenhand import Recipe, Take, tighten
from evenhand.ground import Depth, prepare
from evenhand.ground.prepare import REACHES
from evenhand.jobs.demo_take import demo_take
from evenhand.paper import change_log
from evenhand.recipe import OF_A_SECTION

#: One other value for each setting that does not make everything anew.
_TURNED: dict[str, Any] = {
    "strength": 40.0,
    "reach": 25.0,
    "window": 9.0,
    "lean": 0.0,
    "lean_follow": 4.0,
    "habit": 0.0,
    "most": 10.0,
    "notice": 100.0,
    "carry": "together",
    "for_audio": "on",
    "plan": "hits",
    "span_cost": 1.0,
    "syncopation": "move",
    "hold": ("9:1-9:4",),
    "nudge": ({"at": "9:1", "ms": 12.0},),
    "grid": "1/8",
    "swing": 60.0,
    "together": 40.0,
    "ornaments": "off",
    "fills": "as-played",
    "fill_landing": "as-played",
    "fill": ("20",),
    "groove": ("9",),
}


#: With these, each of the values above makes a difference in the take below.
_BASE: dict[str, Any] = {"fill_landing": "tight", "fills": "loose"}

#: What only the habit asks for.
_OF_THE_HABIT = {"habit", "most", "notice", "carry"}


@pytest.fixture(scope="module")
def take() -> Take:
    return Take.from_bytes(demo_take(), "demo")


@pytest.fixture(scope="module")
def busy() -> Take:
    """Loose playing with flams, near pairs, triplets among sixteenths, and fills with a landing."""
    random = np.random.default_rng(8)
    notes: list[tuple[int, ...]] = []
    for bar in range(1, 33):
        start = bar * 1920
        notes += [(start + step * 120, HAT) for step in range(16)]
        backbeats = (480, 1440) if bar % 8 else (480,)
        notes += [(start + beat - 28, SNARE, 45) for beat in backbeats]
        notes += [(start + beat + int(random.normal(0, 9)), SNARE, 110) for beat in backbeats]
        notes += [(start + beat + int(random.normal(0, 9)), KICK, 100) for beat in (0, 960, 990)]
        notes += [(start + 640, KICK, 100)] if bar == 12 else []
        if bar % 8 == 0:
            notes += [(start + 960 + step * 120 - 15, 45, 100) for step in range(8)]
            notes.append((start + 1920 - 20, 49, 110))
    return drum_take(sorted(notes))


def test_every_setting_that_spares_work_is_tried() -> None:
    # A habit to go towards is a file: tests/plan/test_towards.py.
    assert set(_TURNED) | {"habit_from"} == set(REACHES)


@pytest.mark.parametrize("name", _TURNED)
@pytest.mark.parametrize("where", ["defaults", "section"])
def test_a_turned_dial_gives_what_a_run_from_scratch_gives(
    busy: Take, name: str, where: str
) -> None:
    plan = "hits" if name in _OF_THE_HABIT else "spans"
    base = Recipe(**_BASE, plan=plan, section=({"bars": "9-16"},))
    turned: dict[str, Any] = {name: _TURNED[name]}
    if where == "section":
        if name not in OF_A_SECTION:
            pytest.skip("a setting of the take")
        turned = {"section": ({"bars": "9-16", name: _TURNED[name]},)}
    other = base.with_settings(turned)
    ready = prepare(busy, base)
    again, anew, before = (
        tighten(busy, other, ready),
        tighten(busy, other),
        tighten(busy, base, ready),
    )
    assert again.take.to_bytes() == anew.take.to_bytes()
    assert change_log(again.changes) == change_log(anew.changes)
    assert again.recipe == anew.recipe
    assert change_log(before.changes) != change_log(again.changes)


def test_what_did_not_change_is_not_found_again(take: Take) -> None:
    ready = prepare(take, Recipe())
    dialled = prepare(take, Recipe(strength=20, lean=30), ready)
    assert dialled.strokes is ready.strokes
    assert dialled.layout is ready.layout
    assert dialled.dials.strength.tolist() == [20] * len(ready.sections)
    gridded = prepare(take, Recipe(grid="1/8"), ready)
    assert gridded.strokes is ready.strokes
    assert gridded.layout is not ready.layout
    looser = prepare(take, Recipe(together=21), ready)
    assert looser.sections is ready.sections
    assert looser.strokes is not ready.strokes
    # Not one stroke more or less: the places that tell the grid are the same.
    assert looser.layout is ready.layout


def test_what_else_changes_makes_all_anew(take: Take) -> None:
    ready = prepare(take, Recipe())
    for other in (Recipe(ghost_below=90), Recipe(sections="none"), Recipe(latency=5)):
        assert prepare(take, other, ready).named is not ready.named
    section = prepare(take, Recipe(section=({"bars": "3-6"},)), ready)
    assert len(section.sections) == len(ready.sections) + 2
    copy = Take.from_bytes(take.to_bytes(), "copy")
    assert prepare(copy, Recipe(), ready).take is copy
    assert Depth.ALL > Depth.STROKES > Depth.GRID > Depth.DIALS


def test_a_latency_that_was_found_is_not_found_again(take: Take) -> None:
    ready = prepare(take, Recipe(latency="auto"))
    assert prepare(take, Recipe(latency="auto", strength=10), ready).tick is ready.tick
    coarser = Recipe(latency="auto", grid="1/4")
    assert prepare(take, coarser, ready).latency == prepare(take, coarser).latency


def test_a_latency_of_nothing_needs_one_preparation(take: Take) -> None:
    ready = prepare(take, Recipe(latency="auto"))
    by_hand = prepare(take, Recipe(latency=ready.latency))
    assert np.array_equal(ready.tick, by_hand.tick)
