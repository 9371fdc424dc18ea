"""`evenhand triggers` through its real entry point."""

import contextlib
import csv
import hashlib
import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from evenhand.cli.app import app
from evenhand.jobs.demo_take import demo_take
from evenhand.jobs.triggers.noisy_demo import noisy_take

_EVENHAND = Path(sys.executable).with_name("evenhand")


def _run(*words: str | Path, cwd: Path) -> Any:
    with contextlib.chdir(cwd):
        return CliRunner().invoke(app, ["triggers", *map(str, words)])


@pytest.fixture(scope="module")
def takes_as_bytes() -> dict[str, bytes]:
    return {"take.mid": noisy_take()[0], "clean.mid": demo_take()}


@pytest.fixture
def folder(tmp_path: Path, takes_as_bytes: dict[str, bytes]) -> Path:
    for name, data in takes_as_bytes.items():
        (tmp_path / name).write_bytes(data)
    return tmp_path


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_check_writes_nothing(folder: Path) -> None:
    before = _names(folder)
    done = _run("take.mid", "--check", cwd=folder)
    assert (done.exit_code, done.stderr) == (0, "")
    assert _names(folder) == before
    for words in ("crosstalk: 39 (snare 39)", "double trigger: 27", "kick    snare", "check only"):
        assert words in done.stdout


def test_a_folder_with_everything(folder: Path, takes_as_bytes: dict[str, bytes]) -> None:
    done = _run("take.mid", "-o", "out", "--pulses", "--to", "gm", cwd=folder)
    assert (done.exit_code, done.stderr) == (0, "")
    names = _names(folder / "out")
    assert {"drums.mid", "snare.mid", "snare.wav", "hits.csv", "removed.csv", "report.md"} <= set(
        names
    )
    assert f"{len(names)} files in out" in done.stdout
    assert (folder / "take.mid").read_bytes() == takes_as_bytes["take.mid"]
    again = _run("take.mid", "-o", "out", cwd=folder)
    assert again.exit_code == 1
    assert "out exists; give --overwrite" in again.stderr
    assert _run("take.mid", "-o", "out", "-q", "--overwrite", cwd=folder).stdout == ""
    assert "snare.wav" not in _names(folder / "out")


def test_put_back_by_number(folder: Path) -> None:
    _run("take.mid", "-o", "out", cwd=folder)
    removed = [row["hit"] for row in _rows(folder / "out" / "removed.csv")]
    words = ["--put-back", removed[0], "--put-back", f"{removed[1]},{removed[2]}-{removed[2]}"]
    done = _run("take.mid", "-o", "out", "--overwrite", *words, cwd=folder)
    assert f"put back: {', '.join(removed[:3])}" in done.stdout
    assert [row["hit"] for row in _rows(folder / "out" / "removed.csv")] == removed[3:]
    assert set(removed[:3]) <= {row["hit"] for row in _rows(folder / "out" / "hits.csv")}


def test_json(folder: Path) -> None:
    done = _run("take.mid", "--check", "--json", cwd=folder)
    told = json.loads(done.stdout)
    assert told["hits"] - told["left"] == len(told["removed_hits"])
    assert {one["reason"] for one in told["removed_hits"]} == {"crosstalk", "double trigger"}
    (pair,) = told["crosstalk_pairs"]
    assert (pair["source"], pair["shaken"]) == ("kick", "snare")


def test_a_clean_take_stays(folder: Path) -> None:
    told = json.loads(_run("clean.mid", "--check", "--json", cwd=folder).stdout)
    assert told["removed_hits"] == []


def test_steps_left_out(folder: Path) -> None:
    words = ["--no-crosstalk", "--no-doubles", "--no-lengths", "--check", "--json"]
    told = json.loads(_run("take.mid", *words, cwd=folder).stdout)
    assert (told["removed_hits"], told["lengths_fixed"]) == ([], 0)


def test_settings_reach_the_job(folder: Path) -> None:
    words = "--floor 20 --floor snare=40 --ceiling 120 --curve kick=0.5 --drop-below hat=30"
    words += " --mask snare=12 --rate 96000 --tighten --chokes note-off --length 50"
    done = _run("take.mid", "-o", "out", "--match", "clean.mid", *words.split(), cwd=folder)
    assert done.exit_code == 0, done.stderr
    report = (folder / "out" / "report.md").read_text()
    for line in (
        "floor 20, snare 40; ceiling 120; curve 1, kick 0.5",
        "within 36, snare 12 ms",
        "key pressure ends the cymbal's note",
        "## Tightened",
        "matched to those of another take",
        "50 ms now",
    ):
        assert line in report
    rows = _rows(folder / "out" / "hits.csv")
    assert min(int(row["velocity"]) for row in rows if row["piece"] == "snare") >= 40
    for row in rows:
        # Both are rounded: a nanosecond is less than a thousandth of a sample.
        assert abs(float(row["seconds"]) * 96_000 - int(row["sample"])) <= 0.501


_RECIPE = "[defaults]\nstrength = 100\nwindow = 0\n"


def test_any_recipe(folder: Path) -> None:
    (folder / "song.toml").write_text(_RECIPE)
    for name, words in (("a", []), ("b", ["--recipe", "song.toml"])):
        assert _run("clean.mid", "-o", name, "--tighten", *words, cwd=folder).exit_code == 0
    seconds = [[row["seconds"] for row in _rows(folder / name / "hits.csv")] for name in "ab"]
    assert seconds[0] != seconds[1]


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        ("take.mid", 2, "give either -o FOLDER to write, or --check"),
        ("take.mid --check -o out", 2, "give either"),
        ("take.mid --check --pulses", 2, "--pulses"),
        ("take.mid -o out --rate 47000", 2, "--rate: 47000 is not a known rate"),
        ("take.mid -o out --curve 0", 2, "--curve: the velocity curve .* is not rising"),
        ("take.mid -o out --curve nan", 2, "--curve: 'nan' is not a number"),
        ("take.mid -o out --floor 90 --ceiling 30", 2, "--floor: .* from 90 to 30 is not rising"),
        ("take.mid -o out --floor gong=3", 2, "--floor: 'gong' is not a piece"),
        ("take.mid -o out --mask x", 2, "--mask: 'x'"),
        ("take.mid -o out --length nan", 2, "--length: nan"),
        ("take.mid -o out --put-back 9-3", 2, "--put-back: '9-3'"),
        ("take.mid -o out --put-back 5000", 1, "put-back: there is no hit 5000"),
        ("take.mid -o out --put-back 1", 1, "put-back: hit 1 was not removed"),
        ("take.mid -o out --chokes mute", 2, "--chokes: 'mute'"),
        ("take.mid -o out --merge", 2, "give --to as well"),
        ("take.mid -o out --hat-pedal auto", 2, "give --to as well"),
        ("take.mid -o out --to gm --hat-pedal 9", 1, "hat-pedal: '9'"),
        ("take.mid -o out --to other", 1, "to: 'other' is neither gm nor"),
        (
            "take.mid -o out --to two.toml",
            1,
            "two.toml: note 36 would stand for both kick and snare",
        ),
        ("take.mid -o missing/out", 1, "the folder missing does not exist"),
        ("take.mid -o take.mid", 1, "take.mid is there already and no folder"),
        ("take.mid -o . --overwrite", 1, "name a new folder"),
        ("missing.mid -o out", 1, "missing.mid can't be read"),
        ("junk.mid -o out", 1, "junk.mid: this is not a Standard MIDI File"),
        ("take.mid -o out --match junk.mid", 1, "junk.mid: this is not a Standard MIDI File"),
    ],
)
def test_bad_input_is_refused_by_name(folder: Path, words: str, code: int, says: str) -> None:
    (folder / "two.toml").write_text("[notes]\nkick = 36\nsnare = 36\n")
    (folder / "junk.mid").write_bytes(b"RIFF" + bytes(100))
    before = _names(folder)
    done = _run(*words.split(), cwd=folder)
    assert done.exit_code == code
    assert done.stdout == ""
    (line,) = done.stderr.splitlines()
    assert re.search(says, line), line
    assert _names(folder) == before


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_a_full_standard_output(folder: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [_EVENHAND, "triggers", "take.mid", "--check"],
            cwd=folder, stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_interrupted_runs_leave_nothing(folder: Path, number: int) -> None:
    before = set(_names(folder))
    script = (
        "import os, signal, time, sys; from evenhand.jobs.triggers import out_folder as folder\n"
        "from evenhand.cli.app import app\n"
        "def wait(*words): print('now', flush=True); time.sleep(30)\n"
        "folder.hits_csv = wait\n"
        "app(['triggers', 'take.mid', '-o', 'out', '--pulses'])\n"
    )
    running = subprocess.Popen(
        [sys.executable, "-c", script], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        text=True,
    )  # fmt: skip
    assert running.stdout is not None
    assert running.stdout.readline() == "now\n"
    during = set(_names(folder))
    os.kill(running.pid, number)
    _, errors = running.communicate(timeout=20)
    assert running.returncode != 0
    assert "Traceback" not in errors
    assert any(name.endswith(".part") for name in during - before)
    assert set(_names(folder)) == before


def test_help_has_examples() -> None:
    done = _run("--help", cwd=Path.cwd())
    assert done.exit_code == 0
    for words in ("--pulses", "--put-back", "evenhand triggers take.mid --check"):
        assert words in done.stdout


def test_the_noisy_demo_is_the_same_every_time(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["demo", "--noisy", str(tmp_path)])
    assert done.exit_code == 0
    names = ["kettle-weather-noisy.mid", "kettle-weather-noisy.misfires.csv"]
    assert _names(tmp_path) == names
    assert [(tmp_path / name).read_bytes() for name in names] == list(noisy_take())
    digest = hashlib.sha256((tmp_path / names[0]).read_bytes()).hexdigest()
    assert digest.startswith("4144f906de56cc3f")


def test_audio_is_only_loaded_for_pulses(folder: Path) -> None:
    script = (
        "import sys; from evenhand.cli.app import app\n"
        "try: app(['triggers', 'take.mid', '--check', '-q'])\n"
        "except SystemExit: print('soundfile' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=folder, capture_output=True, text=True, check=True
    )
    assert done.stdout == "False\n"
