"""The options that are made from the table of settings."""

import json
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from evenhand import Recipe, read_take, tighten
from evenhand.cli.app import COMMANDS, app
from evenhand.jobs.demo_take import demo_take
from evenhand.recipe import SETTINGS

#: A value for every option, and what becomes of it.
_TEXTS: dict[str, tuple[list[str], object]] = {
    "grid": (["1/8t"], "1/8T"),
    "sections": (["none"], "none"),
    "swing": (["60"], 60.0),
    "window": (["8"], 8.0),
    "strength": (["60"], 60.0),
    "reach": (["30"], 30.0),
    "together": (["15"], 15.0),
    "latency": (["auto"], "auto"),
    "ghost_below": (["30"], 30),
    "anchor": (["kick", "Tom-1"], ["kick", "tom 1"]),
    "kit": (["gm"], "gm"),
    "channel": (["10"], 10),
    "hold": (["17-20", "3:1"], ["17-20", "3:1"]),
    "resolution": (["960"], 960),
    "lean": (["0"], 0.0),
    "lean_follow": (["8"], 8.0),
    "fills": (["tight"], "tight"),
    "fill_landing": (["as-played"], "as-played"),
    "ornaments": (["off"], "off"),
    "plan": (["spans"], "spans"),
    "span_cost": (["50"], 50.0),
    "syncopation": (["move"], "move"),
    "habit": (["50"], 50.0),
    "most": (["40"], 40.0),
    "notice": (["20"], 20.0),
    "carry": (["together"], "together"),
    "roles": (["pieces"], "pieces"),
    "fill": (["8"], ["8"]),
    "groove": (["9:1-9:3"], ["9:1-9:3"]),
    "smooth": (["2"], 2.0),
    "near": (["108"], 108.0),
    "meter": (["4/4"], "4/4"),
    "first_beat": (["0"], 0.0),
}
#: These go with files, and are tried with them: tests/cli/test_song_options.py and its neighbours.
_WITH_FILES = {"song", "song_at", "against", "share", "habit_from"}
_TIGHTEN = ("tighten", "listen", "batch", "triggers")


def _run(*words: str | Path) -> tuple[int, str]:
    done = CliRunner().invoke(app, [str(word) for word in words])
    return done.exit_code, done.output


def _options(command: str) -> set[str]:
    params = typer.main.get_command(app).commands[command].params
    return {option for param in params for option in param.opts if option.startswith("--")}


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "take.mid"
    path.write_bytes(demo_take())
    return path


@pytest.mark.parametrize("command", _TIGHTEN)
def test_every_command_that_tightens_takes_every_setting(command: str) -> None:
    by_value = {one.option for one in SETTINGS.values() if one.check.option and not one.switches}
    named = {one.replace("--", "").replace("-", "_") for one in by_value}
    assert named == set(_TEXTS) | _WITH_FILES
    assert by_value | {"--fit", "--steady", "--follow"} <= _options(command)
    assert not {"--section", "--nudge"} & _options(command)


def test_assess_takes_what_changes_the_look() -> None:
    assert {"--grid", "--fills", "--ornaments", "--anchor"} <= _options("assess")
    assert not {"--strength", "--hold", "--resolution", "--fit"} & _options("assess")


@pytest.mark.parametrize("name", _TEXTS)
def test_what_is_given_is_in_the_recipe(take: Path, name: str) -> None:
    texts, value = _TEXTS[name]
    words = [word for text in texts for word in (SETTINGS[name].option, text)]
    if SETTINGS[name].needs:
        code, told = _run("tighten", take, *words, "--dry-run")
        assert (code, "need --fit" in told) == (2, True)
        words.append("--fit")
    code, told = _run("tighten", take, *words, "--dry-run", "--json")
    assert code == 0, told
    assert json.loads(told)["recipe"][name] == value


def test_ways_to_fit(take: Path) -> None:
    for words, mode in (
        (["--fit"], "auto"),
        (["--fit", "--steady"], "steady"),
        (["--fit", "--follow"], "follow"),
    ):
        code, told = _run("tighten", take, *words, "--dry-run", "--json")
        assert (code, json.loads(told)["recipe"]["fit"]) == (0, mode)
    for words in (["--steady", "--follow"], ["--fit", "--steady", "--follow"]):
        code, told = _run("tighten", take, *words)
        assert (code, "--steady and --follow exclude each other" in told) == (2, True)
    code, told = _run("batch", take, "-o", take.parent / "out", "--steady")
    assert (code, told.split(": ")[1]) == (
        2,
        "--smooth, --near, --meter, --first-beat, --steady and --follow need --fit\n",
    )


def test_ways_to_fit_refine_a_recipe_that_fits(take: Path, tmp_path: Path) -> None:
    recipe = tmp_path / "song.toml"
    recipe.write_text('fit = "auto"\n')
    words = ["--recipe", recipe, "--steady", "--near", "108", "--dry-run", "--json"]
    code, told = _run("tighten", take, *words)
    settings = json.loads(told)["recipe"]
    assert (code, settings["fit"], settings["near"]) == (0, "steady", 108.0)


def test_what_is_not_given_leaves_a_recipe_as_it_is(take: Path, tmp_path: Path) -> None:
    recipe = tmp_path / "song.toml"
    recipe.write_text('strength = 20\nanchor = ["kick"]\nhold = ["3:1"]\nornaments = "off"\n')
    code, told = _run("tighten", take, "--recipe", recipe, "--dry-run", "--json")
    settings = json.loads(told)["recipe"]
    assert (code, settings["strength"], settings["anchor"]) == (0, 20, ["kick"])
    assert (settings["hold"], settings["ornaments"]) == (["3:1"], "off")


def test_a_batch_tightens_by_what_is_given(take: Path, tmp_path: Path) -> None:
    code, told = _run("batch", take, "-o", tmp_path / "out", "--lean", "0", "--reach", "30")
    assert code == 0, told
    made = (tmp_path / "out" / "take-tight.mid").read_bytes()
    assert made == tighten(read_take(take), Recipe(lean=0, reach=30)).take.to_bytes()


def test_triggers_tighten_by_what_is_given_and_only_then(take: Path, tmp_path: Path) -> None:
    words = ["triggers", take, "--strength", "0", "--together", "15"]
    code, told = _run(*words, "--check")
    assert code == 2
    assert "--strength, --together need --tighten" in told
    for name, more in (("plain", []), ("none", ["--tighten", "--strength", "0"]), ("some", None)):
        given = ["--tighten"] if more is None else more
        assert _run("triggers", take, "-o", tmp_path / name, *given)[0] == 0
    tables = {
        name: (tmp_path / name / "hits.csv").read_bytes() for name in ("plain", "none", "some")
    }
    assert tables["plain"] == tables["none"]
    assert tables["plain"] != tables["some"]


def test_a_bad_grid_is_told_that_auto_is_one(take: Path) -> None:
    code, told = _run("tighten", take, "--grid", "1/12")
    assert code == 2
    assert "evenhand: --grid: '1/12' is none of auto, 1/4" in told


@pytest.mark.parametrize("command", COMMANDS)
def test_lines_of_the_list_are_those_of_the_commands(command: str) -> None:
    words = getattr(import_module(f"evenhand.cli.{command}"), command).__doc__
    assert " ".join(words.split("\n\n")[0].split()) == COMMANDS[command]
    code, text = _run(command, "--help")
    assert (code, text.startswith(f"Usage: evenhand {command} [OPTIONS]")) == (0, True)
    assert "Example" in text


def test_options_stand_in_groups_the_usual_ten_first() -> None:
    _, text = _run("tighten", "--help")
    heads = [line for line in text.splitlines() if line.endswith(":") and line[0] != " "]
    assert [head.rstrip(":") for head in heads if head != "Examples:"] == [
        *("Arguments", "The usual ones", "What moves", "Grid and tempo"),
        *("Kit", "Sections", "Output", "Record"),
    ]
    usual = text.split("The usual ones:")[1].split("What moves:")[0]
    assert sum(line.startswith("  --") for line in usual.splitlines()) == 10


def test_help_loads_only_what_it_shows() -> None:
    script = (
        "import sys; from evenhand.cli.app import app\n"
        "try: app(sys.argv[1:])\n"
        "except SystemExit: print(sorted({name.split('.')[0] for name in sys.modules}))\n"
        "print([name for name in sys.modules if name.startswith('evenhand.cli.')])\n"
    )
    for words in (["--help"], ["tighten", "--help"]):
        done = subprocess.run(
            [sys.executable, "-c", script, *words], capture_output=True, text=True, check=True
        )
        *_, loaded, ours = done.stdout.splitlines()
        assert "'typer'" in loaded
        for heavy in ("numpy", "mido", "pretty_midi", "pydantic", "markdown_it", "pygments"):
            assert f"'{heavy}'" not in loaded
        assert ("evenhand.cli.tighten" in ours) == (words[0] == "tighten")
        assert "evenhand.cli.batch" not in ours


def test_words_are_completed(monkeypatch: pytest.MonkeyPatch) -> None:
    for line, found in (
        ("evenhand tighten --fills ", ["as-played", "loose", "tight"]),
        ("evenhand batch --grid 1/8", ["1/8", "1/8T"]),
        ("evenhand ti", ["tighten"]),
    ):
        monkeypatch.setenv("_EVENHAND_COMPLETE", "complete_bash")
        monkeypatch.setenv("COMP_WORDS", line)
        monkeypatch.setenv("COMP_CWORD", str(len(line.split(" ")) - 1))
        done = CliRunner().invoke(app, [], prog_name="evenhand")
        assert sorted(done.stdout.split()) == found


def test_a_mistyped_command_is_told_the_nearest() -> None:
    code, told = _run("tigthen")
    assert code == 2
    assert "tighten" in told
