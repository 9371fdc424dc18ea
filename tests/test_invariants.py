"""Invariants from issue "foundation", on random takes and on every real one."""

from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests import invariants
from tests.build import plain_recipe
from tests.lengths import examples
from tests.random_takes import (
    Event,
    RandomTake,
    crowded_takes,
    crowding,
    dials,
    judgement,
    random_takes,
)

from evenhand import Recipe, Result, Take, tighten

_STEADY = settings(max_examples=examples(70), deadline=None, derandomize=True)


def _all_invariants(data: bytes, recipe: Recipe) -> Result:
    result = _own_invariants(data, recipe)
    after = invariants.decode(result.take.to_bytes())
    invariants.only_time_moves(invariants.decode(data), after, result)
    invariants.log_tells_the_truth(result, after)
    return result


def _own_invariants(data: bytes, recipe: Recipe) -> Result:
    """Those that are looked for without reading the files by mido, which takes most of the time."""
    take = Take.from_bytes(data)
    result = tighten(take, recipe)
    assert take.to_bytes() == data
    invariants.limbs_stay_apart(result)
    invariants.bytes_are_kept(result)
    invariants.carried_in_proportion(result)
    invariants.gaps_are_guarded(result)
    return result


@_STEADY
@given(random_takes(), dials(), judgement(), st.sampled_from([0, 1]))
def test_nothing_is_lost(
    take: RandomTake, chosen: dict[str, Any], judged: dict[str, Any], kind: int
) -> None:
    _all_invariants(take.to_bytes(kind), Recipe(**(chosen | judged)))


@_STEADY
@given(crowded_takes(), crowding())
def test_nothing_is_lost_in_a_crowd(take: RandomTake, chosen: dict[str, Any]) -> None:
    recipe = plain_recipe(**chosen)
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
    recipe = Recipe(**(chosen | judged))
    shuffled = list(take.tracks)
    chance.shuffle(shuffled)
    other = RandomTake(tuple(shuffled), take.division)
    expected = invariants.places(tighten(Take.from_bytes(take.to_bytes()), recipe))
    for data in (other.to_bytes(), take.to_bytes(kind=0), other.to_bytes(kind=0)):
        assert invariants.places(tighten(Take.from_bytes(data), recipe)) == expected


@_STEADY
@given(random_takes(), dials(), st.integers(1, 8))
def test_a_finer_division_changes_no_music(
    take: RandomTake, chosen: dict[str, Any], factor: int
) -> None:
    data = take.to_bytes()
    recipe = Recipe(**chosen, resolution=take.division * factor)
    result = tighten(Take.from_bytes(data), recipe)
    fine = result.before.to_bytes()
    for was, now in zip(invariants.decode(data), invariants.decode(fine), strict=True):
        assert [(tick * factor, message) for tick, message in was] == now
    assert result.before.division == take.division * factor
    after = invariants.decode(result.take.to_bytes())
    invariants.only_time_moves(invariants.decode(fine), after, result)
    coarse = tighten(Take.from_bytes(data), Recipe(**chosen))
    assert result.changes.hits.ms == pytest.approx(coarse.changes.hits.ms, abs=1e-6)
    assert result.changes.action.tolist() == coarse.changes.action.tolist()
    # The same places but for the rounding, which is to half a tick of each.
    apart = np.abs(result.changes.tick_after / factor - coarse.changes.tick_after)
    assert apart.max() <= 0.5 + 0.5 / factor


def test_piles_keep_their_order() -> None:
    # Four hundred events, three of the drums at each tick and markers that stay among them.
    events: list[Event] = []
    for number in range(100):
        hit = mido.Message("note_on", channel=9, note=36 + number % 9, velocity=1 + number)
        pedal = mido.Message("control_change", channel=9, control=4, value=number)
        marker = mido.MetaMessage("marker", text=str(number))
        events += [(number, marker), (number, hit), (number, pedal), (number, hit.copy(note=42))]
    data = RandomTake((tuple(events),), 480).to_bytes()
    _all_invariants(data, Recipe(latency=26))
    result = _all_invariants(data, Recipe(latency=500))
    assert set(result.changes.tick_after.tolist()) == {0}
    assert [flag.kind for flag in result.flags].count("start") == 1


@_STEADY
@given(random_takes(), dials())
def test_the_number_of_the_channel_does_not_matter(
    take: RandomTake, chosen: dict[str, Any]
) -> None:
    elsewhere = {9: 2, 1: 9}
    tracks = tuple(
        tuple(
            (tick, message.copy(channel=elsewhere[message.channel]))
            if hasattr(message, "channel")
            else (tick, message)
            for tick, message in events
        )
        for events in take.tracks
    )
    other = RandomTake(tracks, take.division).to_bytes()
    expected = invariants.places(tighten(Take.from_bytes(take.to_bytes()), Recipe(**chosen)))
    result = tighten(Take.from_bytes(other), Recipe(**chosen, channel=3))
    assert invariants.places(result) == expected
    invariants.bytes_are_kept(result)


@_STEADY
@given(random_takes(), dials())
def test_same_in_same_out(take: RandomTake, chosen: dict[str, Any]) -> None:
    data = take.to_bytes()
    results = [tighten(Take.from_bytes(data), Recipe(**chosen)).take.to_bytes() for _ in range(2)]
    assert results[0] == results[1]


@pytest.mark.apart
def test_every_real_take(take_path: Path) -> None:
    data = take_path.read_bytes()
    invariants.is_the_same(tighten(Take.from_bytes(data), Recipe(strength=0)), data)
    _own_invariants(data, Recipe())


def test_some_real_takes_under_other_settings(sampled_path: Path) -> None:
    data = sampled_path.read_bytes()
    _all_invariants(data, Recipe())
    _under_other_settings(data)


def _under_other_settings(data: bytes) -> None:
    _all_invariants(data, Recipe(plan="spans", fills="as-played", fill_landing="as-played"))
    strict = _own_invariants(data, plain_recipe(strength=100, window=0))
    invariants.anchors_reach_their_lines(strict)
    take = Take.from_bytes(data)
    invariants.is_the_same(tighten(take, Recipe(window=1e9)), data)
    ticks = np.sort(strict.changes.hits.tick)
    first, last = ticks[len(ticks) // 4], ticks[len(ticks) // 2]
    hold = f"{take.meter.position(first)}-{take.meter.position(last)}"
    held = tighten(take, Recipe(hold=(hold,))).changes
    inside = (held.hits.tick >= first) & (held.hits.tick <= last)
    assert inside.any()
    assert np.array_equal(held.tick_after[inside], held.hits.tick[inside])
