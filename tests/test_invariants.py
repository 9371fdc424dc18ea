"""Invariants from issue "foundation", on random takes and on every real one."""

from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from tests import invariants
from tests.build import plain_recipe
from tests.random_takes import RandomTake, crowded_takes, dials, judgement, random_takes

from evenhand import Recipe, Result, Take, tighten

_STEADY = settings(max_examples=100, deadline=None, derandomize=True)


def _all_invariants(data: bytes, recipe: Recipe) -> Result:
    take = Take.from_bytes(data)
    result = tighten(take, recipe)
    assert take.to_bytes() == data
    after = invariants.decode(result.take.to_bytes())
    invariants.only_time_moves(invariants.decode(data), after)
    invariants.log_tells_the_truth(result, after)
    invariants.bytes_are_kept(result)
    invariants.carried_in_proportion(result)
    invariants.gaps_are_guarded(result)
    return result


@_STEADY
@given(random_takes(), dials(), judgement(), st.sampled_from([0, 1]))
def test_nothing_is_lost(
    take: RandomTake, chosen: dict[str, Any], judged: dict[str, Any], kind: int
) -> None:
    _all_invariants(take.to_bytes(kind), Recipe(**chosen, **judged))


@_STEADY
@given(crowded_takes())
def test_nothing_is_lost_in_a_crowd(take: RandomTake) -> None:
    recipe = plain_recipe(window=0, strength=100, reach=50, ghost_below=1)
    invariants.anchors_reach_their_lines(_all_invariants(take.to_bytes(), recipe))


@_STEADY
@given(random_takes(), dials(), judgement(), st.sampled_from([{"strength": 0}, {"window": 1e6}]))
def test_nothing_moves_when_nothing_should(
    take: RandomTake, chosen: dict[str, Any], judged: dict[str, Any], still: dict[str, float]
) -> None:
    data = take.to_bytes()
    recipe = Recipe(**(chosen | judged | {"latency": 0} | still))
    invariants.is_the_same(tighten(Take.from_bytes(data), recipe), data)


@_STEADY
@given(random_takes(), dials())
def test_claimed_anchors_reach_their_lines(take: RandomTake, chosen: dict[str, Any]) -> None:
    recipe = plain_recipe(**(chosen | {"strength": 100, "window": 0}))
    invariants.anchors_reach_their_lines(tighten(Take.from_bytes(take.to_bytes()), recipe))


@_STEADY
@given(random_takes(), dials(), judgement(), st.data())
def test_held_places_do_not_move(
    random: RandomTake, chosen: dict[str, Any], judged: dict[str, Any], data: st.DataObject
) -> None:
    take = Take.from_bytes(random.to_bytes())
    ends = st.integers(0, take.end)
    first, last = sorted((data.draw(ends), data.draw(ends)))
    hold = f"{take.meter.position(first)}-{take.meter.position(last)}"
    result = tighten(take, Recipe(**(chosen | judged | {"latency": 0}), hold=(hold,)))
    tick = result.changes.hits.tick
    inside = (tick >= first) & (tick <= last)
    assert (result.changes.action[inside] == "held").all()
    held = result.changes.action == "held"
    assert np.array_equal(result.changes.tick_after[held], tick[held])


@_STEADY
@given(random_takes(), dials(), judgement(), st.randoms(use_true_random=False))
def test_order_of_tracks_and_type_do_not_matter(
    take: RandomTake, chosen: dict[str, Any], judged: dict[str, Any], chance: Any
) -> None:
    recipe = Recipe(**chosen, **judged)
    shuffled = list(take.tracks)
    chance.shuffle(shuffled)
    other = RandomTake(tuple(shuffled), take.division)
    expected = invariants.places(tighten(Take.from_bytes(take.to_bytes()), recipe))
    for data in (other.to_bytes(), take.to_bytes(kind=0), other.to_bytes(kind=0)):
        assert invariants.places(tighten(Take.from_bytes(data), recipe)) == expected


@_STEADY
@given(random_takes(), dials())
def test_same_in_same_out(take: RandomTake, chosen: dict[str, Any]) -> None:
    data = take.to_bytes()
    results = [tighten(Take.from_bytes(data), Recipe(**chosen)).take.to_bytes() for _ in range(2)]
    assert results[0] == results[1]


def test_every_real_take(take_path: Path) -> None:
    data = take_path.read_bytes()
    _all_invariants(data, Recipe())
    _all_invariants(data, Recipe(plan="spans", fills="as-played", fill_landing="as-played"))
    strict = _all_invariants(data, plain_recipe(strength=100, window=0))
    invariants.anchors_reach_their_lines(strict)
    take = Take.from_bytes(data)
    invariants.is_the_same(tighten(take, Recipe(strength=0)), data)
    invariants.is_the_same(tighten(take, Recipe(window=1e9)), data)
    ticks = np.sort(strict.changes.hits.tick)
    first, last = ticks[len(ticks) // 4], ticks[len(ticks) // 2]
    hold = f"{take.meter.position(first)}-{take.meter.position(last)}"
    held = tighten(take, Recipe(hold=(hold,))).changes
    inside = (held.hits.tick >= first) & (held.hits.tick <= last)
    assert inside.any()
    assert np.array_equal(held.tick_after[inside], held.hits.tick[inside])
