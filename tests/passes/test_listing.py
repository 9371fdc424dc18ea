from dataclasses import replace
from pathlib import Path

import pytest
from tests.passes.history import add, draft, fill

from evenhand import Recipe
from evenhand.paper.terminal import plain
from evenhand.passes.entry import Pass
from evenhand.passes.listing import list_page, local_time, recipe_changes
from evenhand.passes.store import History, read_history


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    fill(tmp_path / "take.passes")
    return tmp_path / "take.passes"


def _changed(one: Recipe, before: Recipe) -> list[str]:
    def made(recipe: Recipe) -> Pass:
        settings = {
            name: list(value) if isinstance(value, tuple) else value
            for name, value in recipe.settings().items()
        }
        return replace(_SOME, recipe=settings)

    return recipe_changes(made(one), made(before))


_SOME = Pass(2, 0, "", "", "", "", "", "", "", "", {}, {}, {})


@pytest.mark.parametrize(
    ("now", "then", "words"),
    [
        (Recipe(strength=60), Recipe(), ["strength 60 (was 75)"]),
        (Recipe(window=9.5), Recipe(), ["window 9.5 (was auto)"]),
        (Recipe(), Recipe(channel=3), ["channel not set (was 3)"]),
        (Recipe(hold=("3:1-4:1",)), Recipe(hold=("1:1",)), ["hold: added 3:1-4:1, took out 1:1"]),
        (Recipe(anchor=("kick",)), Recipe(), ["anchor: took out snare, side stick"]),
        (
            Recipe(anchor=("snare", "kick")),
            Recipe(anchor=("kick", "snare")),
            ["anchor: another order"],
        ),
        (Recipe(ghost_below=30), Recipe(ghost_below=40), ["ghost below 30 (was 40)"]),
        (Recipe(), Recipe(), ["recipe as in pass 2"]),
        (Recipe(grid="1/8", swing=60), Recipe(), ["grid 1/8 (was auto)", "swing 60 (was 50)"]),
    ],
)
def test_changes_in_words(now: Recipe, then: Recipe, words: list[str]) -> None:
    assert _changed(now, then) == words


def test_the_first_pass_is_told_against_the_defaults(folder: Path) -> None:
    passes = read_history(folder).passes
    assert recipe_changes(passes[0], None) == ["the defaults"]
    assert recipe_changes(passes[1], None) == ["strength 60 (was 75)", "hold: added 3:1-4:1"]


def test_a_setting_of_another_version_is_told_too() -> None:
    before = replace(_SOME, recipe={"strength": 75.0})
    now = replace(_SOME, recipe={"strength": 75.0, "section": [{"at": "1:1", "strength": 50.0}]})
    assert recipe_changes(now, before) == ["section at 1:1 strength 50 (was not set)"]


def test_other_contents_of_a_kit_file_are_told() -> None:
    one = replace(_SOME, recipe={"kit": "mine.toml"}, files={"kit.toml": "a"})
    assert recipe_changes(one, replace(one, files={"kit.toml": "b"})) == [
        "mine.toml has other contents"
    ]


def test_the_list_is_a_tree(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "UTC")
    last = read_history(folder).get(3)
    third = draft(Recipe(grid="1/8"), source=draft().output, start=1)
    add(folder, draft(source=third.output, start=3, note="from there"))
    rows = [line.split() for line in plain(list_page(read_history(folder))).splitlines()[3:7]]
    assert [row[0] for row in rows] == ["1", "3", "4", "2"]
    text = plain(list_page(read_history(folder)))
    assert "from pass 1: grid 1/8 (was auto)" in text
    assert 'from pass 3: grid auto (was 1/8) "from there"' in text
    assert 'strength 60 (was 75); hold: added 3:1-4:1 "second verse looser"' in text
    indents = [
        line.index(number) for line, number in zip(text.splitlines()[3:7], "1342", strict=True)
    ]
    assert [indent - indents[0] for indent in indents] == [0, 2, 4, 0]
    figures = last.figures
    assert f"{figures['spread_before']:.1f} → {figures['spread_after']:.1f}" in text


def test_a_pass_whose_parent_is_lost_is_still_listed(folder: Path) -> None:
    history = read_history(folder)
    orphan = History(folder, history.passes[1:], (), ())
    assert "from pass 1" in plain(list_page(orphan))


def test_several_originals_are_listed(folder: Path) -> None:
    add(folder, draft(source=draft().output))
    text = plain(list_page(read_history(folder)))
    assert "(of passes 1, 2, 3)" in text
    assert "(of pass 4)" in text


def test_an_empty_folder(tmp_path: Path) -> None:
    assert "none on record" in plain(list_page(read_history(tmp_path)))


def test_notes_can_t_steer_the_terminal(folder: Path) -> None:
    add(folder, draft(note="\x1b[2J\nred"))
    text = plain(list_page(read_history(folder)))
    assert "\x1b" not in text
    assert r"\x1b[2J\nred" in text


def test_times_that_make_no_sense_are_shown_as_they_stand() -> None:
    assert local_time("yesterday") == "yesterday"
    assert local_time("0001-01-01T00:00:00+23:59") == "0001-01-01T00:00:00+23:59"
