"""`evenhand tighten`: what it writes, prints and refuses, and how it is interrupted."""

import csv
import json
import os
import pty
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.commands import EVENHAND, run, run_whole

from evenhand import Recipe, Take, read_recipe, read_take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.paper.change_log import change_log


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "take.mid").write_bytes(demo_take())
    return tmp_path


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_files_and_summary(folder: Path) -> None:
    done = run_whole("tighten", "take.mid", cwd=folder)
    assert (done.returncode, done.stderr) == (0, b"")
    assert _names(folder) == ["take-tight.changes.csv", "take-tight.mid", "take.mid", "take.passes"]
    result = tighten(read_take(folder / "take.mid"))
    assert (folder / "take-tight.mid").read_bytes() == result.take.to_bytes()
    assert (folder / "take-tight.changes.csv").read_bytes() == change_log(result.changes)
    assert (folder / "take.mid").read_bytes() == demo_take()
    text = done.stdout.decode()
    for word in ("found", "done", "tightness", "listen to", "written", "888 hits in 58 bars"):
        assert word in text
    assert "\x1b" not in text


def test_options_reach_the_recipe(folder: Path) -> None:
    words = "--grid 1/8 --swing 55 --window 9 --strength 50 --reach 30 --together 10 --latency 2"
    words += " --ghost-below 33 --anchor kick --anchor hat --kit gm --channel 10 --hold 3:1-4:1"
    words += " --resolution 960 --quiet -o out.mid --changes log.csv"
    done = run("tighten", "take.mid", *words.split(), cwd=folder)
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")
    recipe = Recipe(
        grid="1/8", swing=55, window=9, strength=50, reach=30, together=10, latency=2,
        ghost_below=33, anchor=("kick", "hat"), kit="gm", channel=10, hold=("3:1-4:1",),
        resolution=960,
    )  # fmt: skip
    result = tighten(read_take(folder / "take.mid"), recipe)
    assert (folder / "out.mid").read_bytes() == result.take.to_bytes()
    assert (folder / "log.csv").read_bytes() == change_log(result.changes)


def test_options_win_over_the_recipe_file(folder: Path) -> None:
    (folder / "song.toml").write_text('strength = 10\nwindow = 3\n[[hold]]\nat = "1:1"\n')
    done = run(
        "tighten", "take.mid", "--recipe", "song.toml", "--strength", "20", "--json", cwd=folder
    )
    recipe = json.loads(done.stdout)["recipe"]
    assert (recipe["strength"], recipe["window"], recipe["hold"]) == (20, 3, ["1:1"])


def test_json_is_one_object_and_nothing_else(folder: Path) -> None:
    plain = "--grid 1/16 --sections none --lean 0 --fills tight --ornaments off --plan hits"
    done = run("tighten", "take.mid", "--json", *plain.split(), cwd=folder)
    told = json.loads(done.stdout)
    assert done.stderr == b""
    with (folder / "take-tight.changes.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert told["figures"]["hits"] == len(rows)
    for action, count in told["figures"]["actions"].items():
        assert count == sum(row["action"] == action for row in rows)
    assert told["output"] == "take-tight.mid"
    assert [flag["place"] for flag in told["flags"]][1:4] == ["39:1", "53:4", "36:3"]


def test_json_of_a_take_without_anchors_has_nulls(tmp_path: Path) -> None:
    from tests.build import HAT, drum_bytes

    (tmp_path / "hats.mid").write_bytes(drum_bytes([(480, HAT)]))
    done = run("tighten", "hats.mid", "--json", cwd=tmp_path)
    assert json.loads(done.stdout)["figures"]["tightness"]["all"]["mean_before"] is None


def test_dry_run_writes_nothing(folder: Path) -> None:
    done = run("tighten", "take.mid", "--dry-run", cwd=folder)
    assert done.returncode == 0
    assert b"nothing (dry run)" in done.stdout
    assert _names(folder) == ["take.mid"]


def test_standard_input_and_output(folder: Path) -> None:
    expected = tighten(read_take(folder / "take.mid")).take.to_bytes()
    for words in (["-", "-o", "-"], ["-"], ["take.mid", "-o", "-"]):
        done = run_whole("tighten", *words, cwd=folder, stdin=demo_take())
        assert (done.returncode, done.stdout) == (0, expected)
        assert b"found" in done.stderr
    done = run("tighten", "-", "-o", "out.mid", "--quiet", cwd=folder, stdin=demo_take())
    assert (folder / "out.mid").read_bytes() == expected
    assert _names(folder) == ["out.changes.csv", "out.mid", "out.passes", "take.mid"]


def test_output_folder(folder: Path) -> None:
    (folder / "out").mkdir()
    assert run("tighten", "take.mid", "-o", "out", cwd=folder).returncode == 0
    assert _names(folder / "out") == ["take-tight.changes.csv", "take-tight.mid", "take.passes"]


def test_existing_output_needs_overwrite(folder: Path) -> None:
    (folder / "take-tight.mid").write_bytes(b"mine")
    done = run("tighten", "take.mid", cwd=folder)
    assert done.returncode == 1
    assert done.stderr.startswith(b"evenhand: take-tight.mid exists")
    assert (folder / "take-tight.mid").read_bytes() == b"mine"
    assert run("tighten", "take.mid", "--overwrite", cwd=folder).returncode == 0
    assert (folder / "take-tight.mid").read_bytes() != b"mine"


_REFUSED = [
    ("nowhere.mid",),
    (".",),
    ("bad.mid",),
    ("take.mid", "-o", "take.mid", "--overwrite"),
    ("take.mid", "-o", "link.mid", "--overwrite"),
    ("take.mid", "--changes", "take.mid", "--overwrite"),
    ("take.mid", "-o", "x.mid", "--changes", "x.mid"),
    ("take.mid", "-o", "none/x.mid"),
    ("take.mid", "--hold", "99:1"),
    ("take.mid", "--channel", "3"),
    ("take.mid", "--kit", "none.toml"),
    ("take.mid", "--recipe", "none.toml"),
    ("take.mid", "--recipe", "bad.toml"),
    ("take.mid", "--resolution", "500"),
    ("-",),
]


@pytest.mark.parametrize("words", _REFUSED, ids=" ".join)
def test_refusals_are_one_line_and_leave_nothing(folder: Path, words: tuple[str, ...]) -> None:
    (folder / "bad.mid").write_bytes(demo_take()[:500])
    (folder / "bad.toml").write_text("strenght = 3")
    (folder / "link.mid").symlink_to("take.mid")
    before = _names(folder)
    done = run("tighten", *words, cwd=folder)
    assert done.returncode == 1
    assert done.stdout == b""
    assert done.stderr.startswith(b"evenhand: ")
    assert done.stderr.count(b"\n") == 1
    assert _names(folder) == before
    assert (folder / "take.mid").read_bytes() == demo_take()


_WRONG = [
    ("--window", "nan"),
    ("--window=-1",),
    ("--window", "wide"),
    ("--strength", "inf"),
    ("--strength", "lots"),
    ("--grid", "1/5"),
    ("--anchor", "bucket"),
    ("--hold", "bar 17"),
    ("--hold", "4:1-3:1"),
    ("--ghost-below", "0"),
    ("--kit", "house"),
    ("--channel", "17"),
    ("--frob",),
    ("-o", "-", "--json"),
]


@pytest.mark.parametrize("words", _WRONG, ids=" ".join)
def test_wrong_usage_is_told_before_anything_is_read(
    tmp_path: Path, words: tuple[str, ...]
) -> None:
    done = run("tighten", "there-is-no-take.mid", *words, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == b""
    assert b"there-is-no-take" not in done.stderr
    assert words[0].split("=")[0].encode() in done.stderr
    assert b"Traceback" not in done.stderr


def test_full_disk(folder: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full on this system")
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [EVENHAND, "tighten", "take.mid", "-o", "-"],
            cwd=folder, stdout=full, stderr=subprocess.PIPE, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.splitlines()[-1].startswith(b"evenhand: standard output can't be written")


def test_read_only_folder(folder: Path) -> None:
    if os.geteuid() == 0:
        # The superuser may write anywhere but here.
        done = run("tighten", folder / "take.mid", "-o", "/proc/take.mid", cwd=folder)
    else:
        folder.chmod(0o555)
        done = run("tighten", "take.mid", cwd=folder)
        folder.chmod(0o755)
    assert done.returncode == 1
    assert b"can't be written" in done.stderr
    assert done.stderr.count(b"\n") == 1
    assert _names(folder) == ["take.mid"]


def test_reader_that_goes_away(folder: Path) -> None:
    command = f"'{EVENHAND}' tighten take.mid | head -c 1"
    done = subprocess.run(["bash", "-c", command], cwd=folder, capture_output=True, check=False)
    assert b"Traceback" not in done.stderr
    assert done.stdout == b"t"


def test_midi_is_not_thrown_at_a_terminal(folder: Path) -> None:
    ours, theirs = pty.openpty()
    done = subprocess.run(
        [EVENHAND, "tighten", "take.mid", "-o", "-"],
        cwd=folder, stdin=theirs, stdout=theirs, stderr=subprocess.PIPE, check=False,
    )  # fmt: skip
    os.close(theirs)
    os.close(ours)
    assert done.returncode == 2
    assert b"no text for a terminal" in done.stderr


def _killed_while_writing(folder: Path, number: signal.Signals) -> Iterator[int]:
    """Interrupt the command at the moment its temporary file appears."""
    script = (
        "import os, sys, time; real = os.fsync\n"
        "def slow(handle): open('ready', 'w').close(); time.sleep(30); real(handle)\n"
        "os.fsync = slow; sys.argv = ['evenhand', 'tighten', 'take.mid']\n"
        "from evenhand.__main__ import main; main()"
    )
    child = subprocess.Popen([sys.executable, "-c", script], cwd=folder, stderr=subprocess.PIPE)
    deadline = time.monotonic() + 20
    while not (folder / "ready").exists() and time.monotonic() < deadline:
        time.sleep(0.01)
    child.send_signal(number)
    _, errors = child.communicate(timeout=20)
    assert b"Traceback" not in errors
    yield child.returncode


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_interruption_leaves_no_partial_file(
    folder: Path, number: signal.Signals, code: int
) -> None:
    assert next(_killed_while_writing(folder, number)) == code
    assert _names(folder) == ["ready", "take.mid"]


def test_file_name_that_is_no_text(tmp_path: Path) -> None:
    name = os.fsdecode(b"take\xff\x1b[2J.mid")
    (tmp_path / name).write_bytes(demo_take())
    for extra in ([], ["--overwrite", "--json"]):
        done = run("tighten", name, *extra, cwd=tmp_path)
        assert (done.returncode, done.stderr) == (0, b"")
        assert b"\x1b" not in done.stdout


def test_terminal_that_knows_few_letters(folder: Path) -> None:
    (folder / "trommel-é.mid").write_bytes(demo_take())
    few = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    done = run_whole("tighten", "trommel-é.mid", cwd=folder, env=few)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.startswith(b"trommel-\\xe9.mid\n")


def test_help_has_examples_and_defaults(tmp_path: Path) -> None:
    text = run("tighten", "--help", cwd=tmp_path).stdout.decode()
    assert "evenhand tighten take.mid --dry-run" in text
    assert "1/16" in text


def test_recipe_of_a_run_is_written_whole_or_not_at_all(folder: Path) -> None:
    done = run("tighten", "take.mid", "--write-recipe", "song.toml", "--json", cwd=folder)
    assert json.loads(done.stdout)["recipe_written"] == "song.toml"
    words = ["tighten", "take.mid", "--recipe", "song.toml", "-o", "again.mid"]
    assert "again.changes.csv" in run(*words, cwd=folder).stdout.decode()
    assert (folder / "again.mid").read_bytes() == (folder / "take-tight.mid").read_bytes()
    log = (folder / "take-tight.changes.csv").read_bytes()
    assert (folder / "again.changes.csv").read_bytes() == log
    # It exists now: refused before anything is written, or replaced if that is wanted.
    words = ["tighten", "take.mid", "--lean", "0", "--write-recipe", "song.toml", "-o", "third.mid"]
    done = run(*words, cwd=folder)
    assert (done.returncode, "song.toml exists" in done.stderr.decode()) == (1, True)
    assert "third.mid" not in _names(folder)
    done = run(*words, "--overwrite", cwd=folder)
    assert "song.toml" in done.stdout.decode()
    assert read_recipe(folder / "song.toml").lean == 0
    # Nor is the recipe that was read ever written.
    done = run(*words, "--overwrite", "--recipe", "song.toml", cwd=folder)
    assert (done.returncode, "is the input itself" in done.stderr.decode()) == (1, True)


def test_recipe_of_a_run_that_writes_nothing_or_to_a_pipe(folder: Path) -> None:
    done = run("tighten", "take.mid", "--write-recipe", "song.toml", "--dry-run", cwd=folder)
    assert (done.returncode, _names(folder)) == (0, ["take.mid"])
    assert "nothing (dry run)" in done.stdout.decode()
    take = (folder / "take.mid").read_bytes()
    words = ["tighten", "-", "-o", "-", "--write-recipe", "song.toml"]
    done = run(*words, cwd=folder, stdin=take)
    assert done.stdout == tighten(Take.from_bytes(take)).take.to_bytes()
    assert _names(folder) == ["song.toml", "take.mid"]
    assert "song.toml" in done.stderr.decode()


@pytest.mark.parametrize("command", ["tighten", "assess"])
def test_recipe_that_can_not_be_written(folder: Path, command: str) -> None:
    os.mkfifo(folder / "pipe")
    # A device in the place of a pipe would be replaced just so; a pipe hurts nobody.
    for path, why in (("pipe", "is a device or a pipe"), ("no/song.toml", "does not exist")):
        words = [command, "take.mid", "--write-recipe", path, "--overwrite"]
        done = run(*words, cwd=folder)
        assert (done.returncode, done.stderr.count(b"\n")) == (1, 1), done.stderr
        assert why in done.stderr.decode()
        assert _names(folder) == ["pipe", "take.mid"]
