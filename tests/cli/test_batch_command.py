"""`evenhand batch`: what it prints, writes and refuses, and how it goes on."""

import json
import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.commands import EVENHAND, PYTHONPATH, as_text
from tests.commands import run as run_command
from tests.jobs.batch.few import run, small_take, some_takes, tree


def _run(*words: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    return as_text(run_command("batch", *words, cwd=cwd))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    some_takes(tmp_path / "in")
    return tmp_path


def test_lines_in_a_pipe_and_a_summary(folder: Path) -> None:
    done = _run("in", "-o", "out", "--workers", "2", cwd=folder)
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert len([line for line in lines if line.startswith("done: ")]) == 6
    assert "6 takes to out" in lines
    assert "  takes     6 done" in lines
    again = _run("in", "-o", "out", cwd=folder)
    assert "  takes     6 as before" in again.stdout.splitlines()
    run(folder / "in", folder / "other")
    assert tree(folder / "out") == tree(folder / "other")


def test_a_bad_take_fails_alone(folder: Path) -> None:
    (folder / "in" / "bad.mid").write_bytes(b"no take")
    done = _run("in", "-o", "out", cwd=folder)
    assert (done.returncode, done.stderr) == (1, "")
    assert "failed: bad.mid: this is not a Standard MIDI File" in done.stdout
    assert "  takes     6 done, 1 failed" in done.stdout
    assert len(list((folder / "out").rglob("*.mid"))) == 6


def test_stop_on_error(folder: Path) -> None:
    (folder / "in" / "aa.mid").write_bytes(b"no take")
    done = _run("in", "-o", "out", "--stop-on-error", "--workers", "1", cwd=folder)
    assert done.returncode == 1
    assert "aa.mid: this is not a Standard MIDI File" in done.stderr
    assert "stopped there, 0 of 7 takes done" in done.stderr
    assert not (folder / "out" / "batch.csv").exists()
    (folder / "in" / "aa.mid").write_bytes(small_take(50))
    assert _run("in", "-o", "out", "--stop-on-error", cwd=folder).returncode == 0
    assert (folder / "out" / "batch.csv").exists()


def test_json_lines(folder: Path) -> None:
    (folder / "in" / "bad.mid").write_bytes(b"no take")
    done = _run("in", "-o", "out", "--json-lines", cwd=folder)
    assert (done.returncode, done.stderr) == (1, "")
    *rows, end = map(json.loads, done.stdout.splitlines())
    assert sorted(row["state"] for row in rows) == [*["done"] * 6, "failed"]
    assert end["batch"] == {"done": 6, "as before": 0, "to do": 0, "failed": 1, "left out": 0}
    moved = sum(row["moved"] or 0 for row in rows)
    assert moved > 0
    table = (folder / "out" / "batch.csv").read_text()
    assert all(row["take"] in table for row in rows)


def test_dry_run_writes_nothing(folder: Path) -> None:
    done = _run("in", "-o", "out", "--dry-run", cwd=folder)
    assert done.returncode == 0
    assert done.stdout.splitlines()[0] == "to do: monday/take-0.mid"
    assert "  written   nothing (dry run)" in done.stdout
    assert not (folder / "out").exists()


def test_parts_make_the_whole(folder: Path) -> None:
    for part in (1, 2, 3):
        assert _run("in", "-o", "out", "--shard", f"{part}/3", cwd=folder).returncode == 0
    made = tree(folder / "out")
    tables = [name for name in made if name.startswith("batch-")]
    assert sorted(tables) == sorted(
        f"batch-{part}-of-3.{suffix}" for part in (1, 2, 3) for suffix in ("csv", "html")
    )
    rows = [made[name].decode().splitlines()[1:] for name in tables if name.endswith("csv")]
    assert sum(map(len, rows)) == 6
    run(folder / "in", folder / "other")
    assert set(made) - set(tables) == set(tree(folder / "other")) - {"batch.csv", "batch.html"}


def test_options_are_settings(folder: Path) -> None:
    _run("in", "-o", "out", "--strength", "20", "--latency", "5", "--grid", "1/8", cwd=folder)
    about = json.loads((folder / "out" / "take-2-tight.record.json").read_text())
    recipe = about["recipe"]
    assert (recipe["strength"], recipe["latency"], recipe["grid"]) == (20, 5, "1/8")


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        ("nothing.mid -o out", 1, "is no file and no folder"),
        ("empty -o out", 1, "there is no take (.mid, .midi or .smf) in empty"),
        ("in -o in/take-2.mid", 1, "can't be made"),
        ("in -o out --recipe none.toml", 1, "none.toml can't be read"),
        ("in -o out --shard 9/3", 2, "--shard: '9/3' is not a part"),
        ("in -o out --strength 200", 2, "--strength: 200.0 is not 0 to 100"),
        ("in -o out --cluster nowhere", 2, "is not the address of a scheduler"),
        ("in -o out --cluster tcp://a:1 --workers 2", 2, "give one of them"),
        ("in", 2, "--output"),
        ("in -o out --workers 0", 2, "--workers"),
    ],
)
def test_refusals(folder: Path, words: str, code: int, says: str) -> None:
    (folder / "empty").mkdir()
    done = _run(*words.split(), cwd=folder)
    assert done.returncode == code
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert not (folder / "out").exists()


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """What a batch over the takes of `test_interrupted_it_goes_on` leaves."""
    folder = tmp_path_factory.mktemp("undisturbed")
    run(some_takes(folder / "in", 30, bars=12), folder / "out")
    return tree(folder / "out")


@pytest.mark.parametrize(("kind", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_interrupted_it_goes_on(
    folder: Path, undisturbed: dict[str, bytes], kind: int, code: int
) -> None:
    some_takes(folder / "in", 30, bars=12)
    process = subprocess.Popen(
        [EVENHAND, "batch", "in", "-o", "out"],
        cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    process.stdout.readline()
    process.send_signal(kind)
    _, error = process.communicate()
    assert process.returncode == code
    if kind == signal.SIGINT:
        assert "interrupted; " in error
        assert "of 30 takes done; the same command goes on" in error
    assert "Traceback" not in error
    assert not list((folder / "out").glob(".*"))
    assert not (folder / "out" / "batch.csv").exists()
    assert _run("in", "-o", "out", cwd=folder).returncode == 0
    assert tree(folder / "out") == undisturbed


def test_a_disk_that_fills_up(folder: Path) -> None:
    """The file size that a process may write stands for the disk, which tests can't fill."""
    script = (
        "import errno, os, sys\n"
        "from evenhand.__main__ import main\n"
        "import evenhand.take.files as files\n"
        "real, left = os.fsync, [9]\n"
        "def full(handle):\n"
        "    left[0] -= 1\n"
        "    if left[0] < 0: raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))\n"
        "    real(handle)\n"
        "os.fsync = full\n"
        "import evenhand.jobs.workers as workers\n"
        "from tests.jobs.batch.few import Here\n"
        "workers.Workers = lambda number: Here()\n"
        "main()"
    )
    words = [sys.executable, "-c", script, "batch", "in", "-o", "out"]
    done = subprocess.run(
        words, cwd=folder, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": PYTHONPATH},
    )  # fmt: skip
    assert done.returncode == 1
    assert "No space left on device; see to it, and the same command goes on" in done.stderr
    assert len([name for name in tree(folder / "out") if name.endswith(".record.json")]) == 3
    assert not [name for name in tree(folder / "out") if name.endswith(".part")]
    assert "  takes     3 as before, 3 done" in _run("in", "-o", "out", cwd=folder).stdout
    run(folder / "in", folder / "other")
    assert tree(folder / "out") == tree(folder / "other")


def test_a_bar_on_a_terminal(folder: Path) -> None:
    controller, terminal = pty.openpty()
    process = subprocess.Popen(
        [EVENHAND, "batch", "in", "-o", "out"],
        cwd=folder, stdin=terminal, stdout=terminal, stderr=terminal,
        env={**os.environ, "TERM": "xterm", "COLUMNS": "100"},
    )  # fmt: skip
    os.close(terminal)
    shown = b""
    end = time.monotonic() + 60
    while time.monotonic() < end:
        try:
            shown += os.read(controller, 65536)
        except OSError:
            break
    os.close(controller)
    assert process.wait() == 0
    text = shown.decode()
    assert "6/6" in text
    assert "a second" in text
    assert "6 takes to out" in text
    assert "done: " not in text


def test_quiet(folder: Path) -> None:
    done = _run("in", "-o", "out", "-q", cwd=folder)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
