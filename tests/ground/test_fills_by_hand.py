"""Fills and grooves that a recipe names."""

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, TOM, Note, drum_take

from evenhand import Recipe, SettingError, tighten
from evenhand.ground import prepare
from evenhand.ground.fills_by_hand import overrule

_BAR = 1920
_TAKE = drum_take([(_BAR * bar, KICK) for bar in range(17)])


def _after(found: list[tuple[float, float]], **settings: object) -> list[list[float]]:
    """In bars from 1."""
    ticks = (np.array(found, np.float64).reshape(-1, 2) - 1) * _BAR
    fills = overrule(ticks, Recipe(**settings), _TAKE)  # type: ignore[arg-type] # by name
    return (fills / _BAR + 1).tolist()


def test_what_was_found_stays_where_the_hand_says_nothing() -> None:
    assert _after([(4, 5), (8.5, 9)]) == [[4, 5], [8.5, 9]]
    assert _after([]) == []


def test_a_groove_is_no_fill() -> None:
    assert _after([(4, 5), (8.5, 9)], groove=["8"]) == [[4, 5]]
    # The stretch ends where the fill begins.
    assert _after([(8.5, 9)], groove=["8:1-8:2.75"]) == [[8.5, 9]]


def test_a_fill_goes_to_the_beat_behind_its_last_place() -> None:
    assert _after([], fill=["8:3-8:4"]) == [[8.5, 9]]
    assert _after([], fill=["8:1-8:2.5"]) == [[8, 8.5]]
    assert _after([], fill=["8-9"]) == [[8, 10]]


def test_given_fills_replace_what_they_overlap_and_join() -> None:
    fills = _after([(4, 5), (8.5, 9)], fill=["8:2-8:4", "8:4-9:1", "12"])
    assert fills == [[4, 5], [8.25, 9.25], [12, 13]]


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"fill": ["40"]}, "fill: 40:1 lies behind the end of test take"),
        ({"groove": ["3:9"]}, "groove: 3:9: bar 3 has 4 beats"),
        ({"fill": ["3"], "groove": ["3:4-5:1"]}, "named as fill and as groove"),
    ],
)
def test_stretches_that_make_no_sense(settings: dict[str, object], words: str) -> None:
    with pytest.raises(SettingError, match=words):
        _after([], **settings)


def _song() -> list[Note]:
    notes: list[Note] = []
    for bar in range(8):
        notes += [(_BAR * bar + 240 * eighth, HAT, 60) for eighth in range(8)]
        notes += [(_BAR * bar + 960 * half, KICK) for half in range(2)]
        notes += [(_BAR * bar + 480 + 960 * half, SNARE) for half in range(2)]
    return notes


def test_a_pass_takes_them() -> None:
    # A tom at 4:2 alone is no fill; the hand says that bar 4 is one.
    take = drum_take(sorted([*_song(), (3 * _BAR + 480, TOM)]))
    assert len(prepare(take, Recipe()).fills) == 0
    recipe = Recipe(fill=["4"], fills="as-played")
    ground = prepare(take, recipe, prepare(take, Recipe()))
    assert (ground.fills.begin.tolist(), ground.fills.end.tolist()) == ([3 * _BAR], [4 * _BAR])
    held = tighten(take, recipe).changes
    in_fill = (held.hits.tick >= 3 * _BAR) & (held.hits.tick < 4 * _BAR)
    assert set(held.action[in_fill]) == {"held"}
    assert not (held.action[~in_fill] == "held").any()
