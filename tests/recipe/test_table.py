"""The table of settings: whoever adds one adds it there, and finds it everywhere."""

import os
import pickle
import shutil
import subprocess
import sys
from dataclasses import FrozenInstanceError, replace
from pathlib import Path

import pytest

import evenhand
from evenhand import Recipe
from evenhand.recipe import GROUPS, OF_A_SECTION, SETTINGS, page_fields
from evenhand.recipe.checks import TABLES

_SOURCE = Path(evenhand.__file__).parent

_ADDED = """
    wobble: float = setting(
        12.5,
        number(0, 40),
        MOVES,
        "How much of a `wobble` stays.",
        unit="percent",
        where=SECTION,
    )
"""

_TRIED = """
import json, sys
from pathlib import Path
from typer.testing import CliRunner
from evenhand import Recipe, SettingError, read_recipe
from evenhand.cli.app import app
from evenhand.recipe import page_fields, recipe_toml, settings_table

def run(*words):
    done = CliRunner().invoke(app, words)
    return done.exit_code, done.output

# The recipe, its check and its TOML.
recipe = Recipe(wobble=20, section=({"bars": "2", "wobble": 3},))
assert (Recipe().wobble, recipe.wobble, recipe.for_section(0).wobble) == (12.5, 20.0, 3.0)
try:
    Recipe(wobble=41)
except SettingError as error:
    assert str(error) == "wobble: 41 is not 0 to 40", error
else:
    raise AssertionError("41 was taken")
Path("song.toml").write_text(recipe_toml(recipe))
assert "wobble = 20.0" in Path("song.toml").read_text()
assert read_recipe("song.toml") == recipe
assert "wobble : float\\n        How much of a `wobble` stays." in Recipe.__doc__

# The options of every command that tightens, and their help.
for command in ("tighten", "listen", "batch", "triggers"):
    code, text = run(command, "--help")
    assert code == 0 and "--wobble PERCENT" in text, text
    assert "How much of a wobble stays. [12.5]" in " ".join(text.split()), text
assert run("demo", ".")[0] == 0
code, text = run("tighten", "kettle-weather.mid", "--wobble", "30", "--dry-run", "--json")
assert json.loads(text)["recipe"]["wobble"] == 30.0
code, text = run("tighten", "kettle-weather.mid", "--wobble", "50")
assert code == 2 and "evenhand: --wobble: 50.0 is not 0 to 40" in text, text

# The page and the reference.
(field,) = [one for one in page_fields() if one["name"] == "wobble"]
assert (field["unit"], field["low"], field["high"]) == ("percent", 0, 40), field
assert (field["default"], field["section"]) == (12.5, True), field
row = "| `wobble` | `12.5` | 0 to 40 percent | yes | How much of a `wobble` stays. |"
assert row in settings_table().splitlines(), settings_table()
print("everywhere")
"""


def test_a_setting_added_to_the_table_is_everywhere(tmp_path: Path) -> None:
    house = tmp_path / "src" / "evenhand"
    shutil.copytree(_SOURCE, house, ignore=shutil.ignore_patterns("__pycache__"))
    with (house / "recipe" / "table_judgement.py").open("a", encoding="utf-8") as table:
        table.write(_ADDED)
    done = subprocess.run(
        [sys.executable, "-c", _TRIED], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": str(tmp_path / "src")},
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (0, "everywhere\n"), done.stderr


def test_what_is_listed_is_whole() -> None:
    for name, one in SETTINGS.items():
        assert one.name == name
        assert one.group in GROUPS
        assert one.words.endswith(".")
        assert one.words.count("`") % 2 == 0
        assert one.needs in ("", *SETTINGS)
        # The default is sound, and where there is none, words say what holds.
        assert one.check(name, one.default) == one.default
        assert one.default not in (None, ()) or one.unset
        # A number has a unit or says itself what it counts.
        assert not one.check.limits or one.unit or one.metavar
        assert all(one.check(name, word) == word for word in one.check.words())
    assert set(OF_A_SECTION) < set(SETTINGS)


def test_fields_of_a_page_are_plain_data() -> None:
    fields = {one["name"]: one for one in page_fields()}
    assert list(fields) == list(SETTINGS)
    assert fields["strength"] == {
        "name": "strength",
        "kind": "number",
        "unit": "percent",
        "low": 0,
        "high": 100,
        "whole": False,
        "choices": [],
        "default": 75.0,
        "unset": "",
        "section": True,
        "needs": "",
        "group": "What moves",
        "usual": True,
        "words": "How much of its deviation a moved stroke loses.",
        "more": SETTINGS["strength"].more,
    }
    window = fields["window"]
    assert (window["low"], window["high"], window["choices"]) == (0, None, ["auto"])
    assert fields["fills"]["choices"] == ["loose", "tight", "as-played"]
    assert fields["anchor"]["default"] == ["kick", "snare", "side stick"]
    assert (fields["near"]["default"], fields["near"]["needs"]) == (None, "fit")
    assert fields["nudge"]["kind"] == TABLES


def test_a_recipe_is_a_value() -> None:
    recipe = Recipe(strength=60, hold=("17-20",), section=({"bars": "5", "lean": 0},))
    assert pickle.loads(pickle.dumps(recipe)) == recipe
    assert replace(recipe, strength=75) != recipe
    assert hash(replace(recipe, strength=60)) == hash(recipe)
    assert (
        repr(recipe)
        == "Recipe(strength=60.0, hold=('17-20',), section=({'bars': '5', 'lean': 0.0},))"
    )
    assert eval(repr(recipe), {"Recipe": Recipe}) == recipe
    with pytest.raises(FrozenInstanceError):
        recipe.strength = 1
    with pytest.raises(TypeError, match="strenght"):
        Recipe(strenght=60)


def test_the_table_needs_no_numpy() -> None:
    script = "import sys, evenhand.recipe; print('numpy' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout == "False\n"
