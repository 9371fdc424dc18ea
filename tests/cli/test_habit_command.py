"""`evenhand habit` and `compare --habit` through the real entry point."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from evenhand import read_take
from evenhand.jobs.demo_take import demo_take

_EVENHAND = Path(sys.executable).with_name("evenhand")


def _run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([_EVENHAND, *words], cwd=cwd, capture_output=True, text=True, check=False)


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
    words = ("habit", "take.mid", "--from", "demo.habit.toml", "-o", "leaned.mid")
    assert _run(*words, cwd=folder).returncode == 0
    before, after = (read_take(folder / name).hits() for name in ("take.mid", "leaned.mid"))
    # Leaned towards its own habit a take stays where it is, to the two places of the file.
    assert abs(before.ms - after.ms).max() < 1.2
    page = _run("compare", "--habit", "demo.habit.toml", "demo.habit.toml", cwd=folder).stdout
    assert "a: demo.habit.toml, b: demo.habit.toml" in page
    assert "*" in page


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (["habit", "take.mid", "--percent", "50"], 2, "--percent says how far to lean"),
        (["habit", "take.mid", "--from", "x.toml"], 2, "--from leans one take"),
        (["habit", "take.mid", "--from", "x.toml", "-o", "y.mid"], 1, "x.toml can't be read"),
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
