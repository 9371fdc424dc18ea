"""The whole job against an independent, exact implementation of the design (tests/oracle.py)."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests import oracle
from tests.build import HAT, KICK, drum_bytes, plain_recipe
from tests.lengths import examples
from tests.random_takes import RandomTake, crowded_takes, crowding, dials, random_takes

from evenhand import Recipe, Result, Take, tighten


def _settings(recipe: Recipe) -> oracle.Settings:
    window = recipe.window_ms
    assert recipe.ghost_limit is not None
    return oracle.Settings(
        ghost_below=recipe.ghost_limit,
        grid=recipe.grid,
        swing=Fraction(recipe.swing),
        window=None if window is None else Fraction(window),
        strength=Fraction(recipe.strength),
        reach=Fraction(recipe.reach),
        together=Fraction(recipe.together),
        latency=Fraction(recipe.latency),
        anchors=recipe.anchor,
        holds=recipe.hold,
    )


def _agree(data: bytes, recipe: Recipe) -> Result:
    result = tighten(Take.from_bytes(data), recipe)
    changes = result.changes
    expected = oracle.judge(data, _settings(recipe))
    assert len(changes) == len(expected)
    for index, hit in enumerate(expected):
        place = f"hit {index + 1}: {hit}"
        assert changes.hits.tick[index] == hit.file_tick, place
        assert changes.action[index] == hit.action, place
        if hit.line is None or hit.deviation is None:
            assert np.isnan(changes.line[index]), place
        else:
            assert changes.line[index] == pytest.approx(float(hit.line), abs=1e-6), place
            deviation = changes.deviation_before[index]
            assert deviation == pytest.approx(float(hit.deviation), abs=1e-6), place
        assert changes.tick_after[index] == hit.tick_after, place
    return result


def _hold_somewhere(draw: st.DrawFn, data: bytes) -> tuple[str, ...]:
    take = Take.from_bytes(data)
    ends = st.integers(0, take.end)
    holds = []
    for _ in range(draw(st.integers(0, 2))):
        first, last = sorted((draw(ends), draw(ends)))
        holds.append(f"{take.meter.position(first)}-{take.meter.position(last)}")
    return tuple(holds)


# The same examples on every run; searched at random with many more of them when this was written.
@settings(max_examples=examples(400), deadline=None, derandomize=True)
@given(random_takes(), dials(), st.data())
def test_random_takes(take: RandomTake, chosen: dict[str, Any], data: st.DataObject) -> None:
    written = take.to_bytes()
    recipe = plain_recipe(**chosen, hold=_hold_somewhere(data.draw, written))
    _agree(written, recipe)


@settings(max_examples=examples(200), deadline=None, derandomize=True)
@given(crowded_takes(), crowding(), st.data())
def test_strokes_in_each_others_way(
    take: RandomTake, chosen: dict[str, Any], data: st.DataObject
) -> None:
    written = take.to_bytes()
    _agree(written, plain_recipe(**chosen, hold=_hold_somewhere(data.draw, written)))


def test_who_gives_way_makes_the_one_before_give_way() -> None:
    # Swing 75 puts lines at 180 and 240. The kick at 95 wants +85, the one at 212 wants +28, but
    # three ticks behind it a hat is held: 1.5 is half of that gap. The first kick then has
    # 1.5 + 117 / 2 = 60 left. Worked by hand.
    data = drum_bytes([(95, KICK), (212, KICK), (215, HAT)])
    recipe = plain_recipe(
        swing=75, reach=50, window=0, strength=100, together=0, ghost_below=1, hold=("1:1.448",)
    )
    changes = _agree(data, recipe).changes
    assert changes.tick_after.tolist() == [155, 214, 215]
    assert changes.action.tolist() == ["moved", "moved", "held"]


_RECIPES = (
    plain_recipe(ghost_below=40),
    plain_recipe(ghost_below=30, grid="1/8T", strength=100, window=0, reach=50, latency=7.3),
    plain_recipe(ghost_below=50, grid="1/32", swing=58, reach=60, hold=("3:2.5-5:1", "2:1")),
)


def test_real_takes(takes: list[Path]) -> None:
    long_ones = sorted(takes, key=lambda path: path.stat().st_size)[len(takes) // 2 :]
    for index, path in enumerate(long_ones[::9]):
        _agree(path.read_bytes(), _RECIPES[index % len(_RECIPES)])
