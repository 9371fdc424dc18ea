"""`evenhand habit` and `compare --habit`."""

import json
import re
import subprocess
from pathlib import Path

import pytest
from tests.commands import as_text, run

from evenhand import read_take
from evenhand.jobs.demo_take import demo_take


def _run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return as_text(run(*words, cwd=cwd))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "take.mid").write_bytes(demo_take())
    return tmp_path


def test_a_habit_is_written_compared_and_leaned_towards(folder: Path) -> None:
    done = _run("habit", "take.mid", "-o", "demo.habit.toml", cwd=folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert "demo.habit.toml" in done.stdout
    same = _run("compare", "--habit", "demo.habit.toml", "demo.habit.toml", "--json", cwd=folder)
    assert json.loads(same.stdout)["alike"] == pytest.approx(1)
    words = ("take.mid", "--habit-from", "demo.habit.toml", "--strength", "0")
    assert _run("tighten", *words, cwd=folder).returncode == 0
    before, after = (read_take(folder / name).hits() for name in ("take.mid", "take-tight.mid"))
    # Towards its own habit a take stays where it is, to the two places of the file.
    assert abs(before.ms - after.ms).max() < 1.2
    page = _run("compare", "--habit", "demo.habit.toml", "demo.habit.toml", cwd=folder).stdout
    assert "a: demo.habit.toml, b: demo.habit.toml" in page
    assert "*" in page


def test_a_habit_makes_the_pass_and_the_batch_repeatable(folder: Path) -> None:
    habit = folder / "own.habit.toml"
    assert _run("habit", "take.mid", "-o", habit.name, cwd=folder).returncode == 0
    text = habit.read_text(encoding="utf-8")
    habit.write_text(re.sub(r"\bms = (-?[0-9.]+)", r"ms = 12.5", text), encoding="utf-8")
    words = ("take.mid", "--habit-from", habit.name)
    assert _run("tighten", *words, cwd=folder).returncode == 0
    (folder / "takes").mkdir()
    (folder / "takes" / "take.mid").write_bytes((folder / "take.mid").read_bytes())
    words = ("takes", "-o", "out", "--workers", "1", "--habit-from", habit.name)
    assert _run("batch", *words, cwd=folder).returncode == 0
    tight = (folder / "take-tight.mid").read_bytes()
    assert (folder / "out" / "take-tight.mid").read_bytes() == tight
    assert tight != (folder / "take.mid").read_bytes()
    habit.unlink()
    assert _run("passes", "take.mid", "--verify", cwd=folder).returncode == 0
    (folder / "take.passes" / "0001" / "output.mid").unlink()
    words = ("restore", "take.mid", "--pass", "1", "-o", "again.mid")
    assert _run(*words, cwd=folder).returncode == 0
    assert (folder / "again.mid").read_bytes() == tight


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (["tighten", "take.mid", "--habit-from", "x.toml"], 1, "x.toml can't be read"),
        (["tighten", "take.mid", "--habit-from", "bad.toml"], 1, "bad.toml: this is no habit"),
        (["tighten", "take.mid", "--habit-from", "take.mid"], 2, "is no habit file (.toml)"),
        (["habit", "take.mid", "-o", "take.mid"], 1, "is the input itself"),
        (["compare", "--habit", "a", "b", "--within", "5"], 2, "--habit compares two habit files"),
        (["compare", "--habit", "bad.toml", "bad.toml"], 1, "bad.toml: this is no habit file"),
    ],
)
def test_refusals(folder: Path, words: list[str], code: int, message: str) -> None:
    (folder / "bad.toml").write_text("x = 1\n")
    done = _run(*words, cwd=folder)
    assert message in done.stderr
    assert (done.returncode, done.stdout) == (code, "")
    assert len(done.stderr.splitlines()) == 1
