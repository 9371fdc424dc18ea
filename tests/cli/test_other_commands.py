"""`evenhand kit`, `evenhand demo` and the command itself."""

import csv
import io
import json
import os
import subprocess
from pathlib import Path

import pytest
from tests.commands import EVENHAND
from typer.testing import CliRunner

from evenhand import __version__, read_take, tighten
from evenhand.cli.app import app
from evenhand.jobs import demo_take as demo

_EXAMPLES = Path(__file__).parents[2] / "examples"


def _invoke(*words: str | Path) -> tuple[int, str]:
    done = CliRunner().invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "take.mid"
    path.write_bytes(demo.demo_take())
    return path


def test_version_and_help() -> None:
    assert _invoke("--version") == (0, f"evenhand {__version__}\n")
    code, text = _invoke("--help")
    assert code == 0
    assert all(command in text for command in ("tighten", "kit", "demo"))


def test_kit_lists_every_note(take: Path) -> None:
    code, text = _invoke("kit", take, "--json")
    told = json.loads(text)
    hits = read_take(take).hits()
    assert code == 0
    assert sum(row["hits"] for row in told["notes"]) == len(hits)
    assert {row["note"] for row in told["notes"]} == set(hits.note.tolist())
    (pad,) = [row for row in told["notes"] if not row["known"]]
    assert (pad["note"], pad["piece"], pad["first"]) == (31, "other", "45:4.992")
    code, text = _invoke("kit", take)
    assert "1 note not in the map: 31" in text


def test_kit_with_a_map_of_ones_own(take: Path, tmp_path: Path) -> None:
    kit = tmp_path / "mine.toml"
    kit.write_text('[notes]\n31 = "snare"\n')
    code, text = _invoke("kit", take, "--kit", kit)
    assert code == 0
    assert "every note is in the map" in text


def test_demo_is_the_same_every_time_and_the_same_as_in_the_examples(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "folder"
    code, text = _invoke("demo", folder)
    assert code == 0
    names = ["kettle-weather.faults.csv", "kettle-weather.mid", "kettle-weather.recipe.toml"]
    assert sorted(path.name for path in folder.iterdir()) == names
    assert all(name in text for name in names)
    for name in names:
        assert (folder / name).read_bytes() == (_EXAMPLES / name).read_bytes()
    assert _invoke("demo", folder)[0] == 1
    assert _invoke("demo", folder, "--overwrite")[0] == 0


def test_demo_is_about_two_minutes_long() -> None:
    import mido

    midi = mido.MidiFile(file=io.BytesIO(demo.demo_take()))
    assert 110 < midi.length < 140


def test_planted_faults_are_where_the_list_says(take: Path) -> None:
    """The faults list against the take: each single early or late hit is found at its place."""
    changes = tighten(read_take(take)).changes
    planted = [row for row in csv.DictReader(io.StringIO(demo.faults_csv().decode()))
               if row["what"] in ("early", "late")]  # fmt: skip
    assert len(planted) == 5
    meter = read_take(take).meter
    for row in planted:
        bar, beat = row["at"].split(":")
        from evenhand.take.meter import Position

        line = meter.to_tick(Position(int(bar), float(beat)))
        at = (changes.line == line) & (changes.hits.piece == row["piece"])
        expected = float(row["ms"]) + (-15 if int(bar) < 26 else 0)
        # The human scatter is at most 12 ms either way.
        assert changes.deviation_before[at].tolist() == pytest.approx([expected], abs=12.5)
        assert changes.action[at].tolist() == ["moved"]


@pytest.mark.parametrize("code", ["utf-8", "utf-16"])
@pytest.mark.parametrize("word", ["--install-completion", "--show-completion"])
def test_a_shell_that_has_no_completion_is_told_on_standard_error(
    tmp_path: Path, code: str, word: str
) -> None:
    # The shell is the process that the command comes from; what follows keeps it there.
    words = ["/bin/sh", "-c", '"$0" "$@"; exit $?', str(EVENHAND), word]
    environment = {**os.environ, "HOME": str(tmp_path), "PYTHONIOENCODING": code}
    done = subprocess.run(words, env=environment, capture_output=True, check=False)
    assert done.returncode == 1
    assert done.stdout == b""
    told = done.stderr.decode(code)
    assert told.startswith("evenhand: Shell sh ")
    assert told.endswith("not supported.\n")
    assert told.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
