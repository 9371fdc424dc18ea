"""`evenhand compare`."""

import csv
import json
import subprocess
from pathlib import Path

import pytest
from tests.build import HAT, KICK, SNARE, drum_bytes
from tests.commands import run

_NOTES = [(0, KICK), (480, SNARE), (720, HAT), (960, KICK)]


def _run(*words: str, cwd: Path, stdin: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    return run("compare", *words, cwd=cwd, stdin=stdin)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "a.mid").write_bytes(drum_bytes(_NOTES))
    (tmp_path / "same.mid").write_bytes(
        drum_bytes([(2 * at, note) for at, note in _NOTES], division=960)
    )
    (tmp_path / "b.mid").write_bytes(drum_bytes([(0, KICK), (500, SNARE), (960, KICK, 90)]))
    (tmp_path / "bad.mid").write_bytes(b"MThd")
    return tmp_path


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("a.mid a.mid", 0),
        ("a.mid same.mid", 0),
        ("a.mid b.mid", 3),
        ("a.mid b.mid --quiet", 3),
        ("a.mid b.mid --json", 3),
        ("a.mid b.mid --csv -", 3),
        ("- same.mid", 0),
        ("a.mid nowhere.mid", 1),
        ("a.mid bad.mid", 1),
        ("a.mid b.mid --channel 3", 1),
        ("a.mid b.mid --kit nowhere.toml", 1),
        ("a.mid b.mid --csv nowhere/x.csv", 1),
        ("a.mid b.mid --csv a.mid --overwrite", 1),
        ("a.mid", 2),
        ("- -", 2),
        ("a.mid b.mid --within nan", 2),
        ("a.mid b.mid --within 0", 2),
        ("a.mid b.mid --within -3", 2),
        ("a.mid b.mid --csv - --json", 2),
    ],
)
def test_exit_codes(folder: Path, words: str, code: int) -> None:
    before = (folder / "a.mid").read_bytes()
    done = _run(*words.split(), cwd=folder, stdin=before)
    assert done.returncode == code
    assert b"Traceback" not in done.stderr
    if code in (0, 3):
        assert done.stderr == b""
    if code == 1:
        assert (done.stdout, done.stderr.count(b"\n")) == (b"", 1)
    assert (folder / "a.mid").read_bytes() == before


def test_page(folder: Path) -> None:
    text = _run("a.mid", "b.mid", cwd=folder).stdout.decode()
    assert text.startswith("a.mid and b.mid\n")
    assert "they differ: 1 moved, 1 with another velocity, 1 dropped; 1 the same" in text
    assert "1:2    snare  moved       +20.8" in text


def test_json_and_csv_tell_the_same(folder: Path) -> None:
    done = _run("a.mid", "b.mid", "--json", "--csv", "d.csv", cwd=folder)
    told = json.loads(done.stdout)
    with (folder / "d.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["difference"] for row in rows] == ["same", "moved", "dropped", "velocity"]
    for name in ("same", "moved", "dropped", "velocity", "added"):
        assert told["all"][name] == sum(row["difference"] == name for row in rows)
    assert _run("a.mid", "b.mid", "--csv", "d.csv", cwd=folder).returncode == 1
    assert (
        _run("a.mid", "b.mid", "--csv", "-", cwd=folder).stdout == (folder / "d.csv").read_bytes()
    )
