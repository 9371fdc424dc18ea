"""What each change makes of the state: nothing else, and undone bit for bit."""

import random
from typing import Any

import pytest

from evenhand.errors import SettingError
from evenhand.recipe import Recipe, recipe_toml
from evenhand.review.state import State, Undoable, changed

START = Undoable(State(Recipe(strength=60, hold=("3:1",))))
MARK = {
    "op": "mark",
    "key": "large move 5:1 7",
    "kind": "large move",
    "place": "5:1",
    "text": "snare moved",
    "hit": 6,
    "ms": 8000.0,
}
VERSE = {"name": "verse", "bars": "5-20"}


def made(*changes: dict[str, Any], start: Undoable = START) -> Undoable:
    for change in changes:
        start = changed(start, change)
    return start


def test_settings_of_the_take_and_of_a_section() -> None:
    recipe = made(
        {"op": "set", "name": "strength", "value": 40},
        {"op": "set", "name": "lean", "value": 0, "section": VERSE},
        {"op": "set", "name": "strength", "value": 10, "section": VERSE},
    ).present.recipe
    assert recipe.strength == 40
    (verse,) = recipe.section
    assert (verse.name, verse.bars, dict(verse.settings)) == (
        "verse",
        "5-20",
        {"lean": 0, "strength": 10},
    )
    # Without anything of its own, a section is none.
    usual = {"op": "set", "value": None, "section": VERSE}
    emptied = made(
        {**usual, "name": "lean"},
        {**usual, "name": "strength"},
        {"op": "set", "name": "strength", "value": None},
        start=Undoable(State(recipe)),
    ).present.recipe
    assert emptied == Recipe(hold=("3:1",))


def test_holds_and_nudges_come_and_go() -> None:
    recipe = made(
        {"op": "hold", "at": "7:2-8:1", "on": True},
        {"op": "hold", "at": "7:2-8:1", "on": True},
        {"op": "hold", "at": "3:1", "on": False},
        {"op": "nudge", "at": "9:1", "piece": "kick", "ms": -4},
        {"op": "nudge", "at": "9:1", "piece": "kick", "ms": -5},
        {"op": "nudge", "at": "9:3", "piece": "snare", "ms": 2},
        {"op": "nudge", "at": "9:3", "piece": "snare", "ms": 0},
    ).present.recipe
    assert recipe.settings()["hold"] == ("7:2-8:1",)
    assert recipe.settings()["nudge"] == ({"at": "9:1", "piece": "kick", "ms": -5.0},)


def test_several_changes_are_one_step() -> None:
    hold = {"op": "hold", "at": "5:1", "on": True}
    history = made({"op": "several", "ops": [hold, {**MARK, "as": "left"}]})
    assert history.present.recipe.settings()["hold"] == ("3:1", "5:1")
    assert [mark.verdict for mark in history.present.marks] == ["left"]
    assert changed(history, {"op": "undo"}).present == START.present


def test_a_dial_that_is_turned_on_is_one_step() -> None:
    turn = [
        {"op": "set", "name": "strength", "value": value, "gesture": "strength 1"}
        for value in (61, 62, 63)
    ]
    history = made(*turn, {"op": "set", "name": "strength", "value": 64, "gesture": "strength 2"})
    assert len(history.past) == 2
    assert changed(history, {"op": "undo"}).present.recipe.strength == 63
    assert made({"op": "undo"}, {"op": "undo"}, start=history).present == START.present


def test_what_was_put_aside_is_not_undone() -> None:
    history = made({"op": "slot"}, {"op": "set", "name": "strength", "value": 10})
    assert history.slot == START.present.recipe
    back = changed(history, {"op": "use slot"})
    assert back.present.recipe == START.present.recipe
    assert changed(back, {"op": "undo"}).present.recipe.strength == 10
    with pytest.raises(SettingError, match="nothing was put aside"):
        changed(START, {"op": "use slot"})


@pytest.mark.parametrize("seed", range(20))
def test_a_hundred_random_changes_undo_bit_for_bit(seed: int) -> None:
    dice = random.Random(seed)
    first = recipe_toml(START.present.recipe)
    history, states = START, [START.present]
    while len(states) < 101:
        at = f"{dice.randint(1, 30)}:{dice.randint(1, 4)}"
        change = dice.choice(
            [
                {"op": "set", "name": "strength", "value": dice.randint(0, 100)},
                {"op": "set", "name": "lean", "value": dice.randint(0, 100), "section": VERSE},
                {"op": "set", "name": "fills", "value": dice.choice(["loose", "tight"])},
                {"op": "hold", "at": at, "on": dice.random() < 0.7},
                {"op": "nudge", "at": at, "piece": "snare", "ms": dice.randint(-9, 9) / 2},
                {**MARK, "key": at, "as": dice.choice(["right", "left", "waits", None])},
            ]
        )
        after = changed(history, change)
        if after.present != history.present:
            states.append(after.present)
        history = after
    for state in reversed(states[:-1]):
        history = changed(history, {"op": "undo"})
        assert history.present == state
    assert recipe_toml(history.present.recipe) == first
    assert changed(history, {"op": "undo"}) == history
    for state in states[1:]:
        history = changed(history, {"op": "redo"})
        assert history.present == state


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({}, "op: None is none of"),
        ({"op": "eval"}, "op: 'eval' is none of"),
        ({"op": ["set"]}, "is none of"),
        ({"op": "set", "name": "strength", "value": 900}, "strength: 900 is not 0 to 100"),
        ({"op": "set", "name": "strength", "value": "x"}, "strength: 'x'"),
        ({"op": "set", "name": "nothing", "value": 1}, "unknown setting 'nothing'"),
        ({"op": "set", "name": "kit", "value": "/etc/kit.toml"}, "kit: can't be set here"),
        ({"op": "set", "name": "song", "value": "/etc/a.mid"}, "song: can't be set here"),
        ({"op": "set", "name": "hold", "value": []}, "hold: can't be set here"),
        ({"op": "set", "name": "latency", "value": 1, "section": VERSE}, "latency"),
        ({"op": "set", "name": "lean", "value": 1, "section": "verse"}, "section: not an object"),
        ({"op": "hold", "at": "no place", "on": True}, "no place"),
        ({"op": "hold", "at": "3:1", "on": "yes"}, "neither true nor false"),
        ({"op": "hold", "at": 3, "on": True}, "at: 3 is not a short text"),
        ({"op": "nudge", "at": "3:1", "piece": "kick", "ms": 4000}, "4000"),
        ({"op": "nudge", "at": "3:1", "piece": "gong", "ms": 4}, "gong"),
        ({"op": "nudge", "at": "3:1", "ms": None}, "None"),
        ({**MARK, "as": "fine"}, "as: 'fine' is none of"),
        ({**MARK, "as": "right", "ms": -1}, "ms: -1"),
        ({**MARK, "as": "right", "hit": True}, "hit: True"),
        ({**MARK, "as": "right", "text": "x" * 2000}, "text: "),
        ({"op": "several", "ops": [{"op": "several", "ops": []}]}, "op: 'several' is none"),
        ({"op": "several", "ops": "ab"}, "several: ops"),
        ({"op": "several", "ops": [1]}, "several: a change is not an object"),
    ],
)
def test_nonsense_is_refused_by_name(change: dict[str, Any], said: str) -> None:
    with pytest.raises(SettingError, match=said):
        changed(START, change)
