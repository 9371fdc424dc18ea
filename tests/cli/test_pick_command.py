"""`evenhand pick`."""

import json
import subprocess
from pathlib import Path

import numpy as np
import pytest
from tests.commands import as_text, run
from tests.jobs.pick.sets import SECTIONS, four_takes

from evenhand import Take, read_take


def _run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return as_text(run("pick", *words, cwd=cwd))


@pytest.fixture(scope="module")
def takes() -> list[Take]:
    return four_takes(np.random.default_rng(1))[0]


@pytest.fixture
def folder(takes: list[Take], tmp_path: Path) -> Path:
    for take in takes:
        take.save(tmp_path / take.name)
    return tmp_path


_TAKES = [f"take-{number}.mid" for number in range(1, 5)]


def test_a_take_and_its_list_of_hits(folder: Path) -> None:
    done = _run(*_TAKES, "-o", "best.mid", cwd=folder)
    assert (done.returncode, done.stderr) == (0, "")
    hits = read_take(folder / "best.mid").hits()
    assert len((folder / "best.hits.csv").read_text().splitlines()) == len(hits) + 1
    assert done.stdout.startswith(f"{len(hits)} hits picked from 4 takes")
    for name, _ in SECTIONS:
        assert name in done.stdout
    again = _run(*_TAKES, "-o", "best.mid", cwd=folder)
    assert again.returncode == 1
    assert "best.mid exists" in again.stderr


def test_the_same_in_the_same_out(folder: Path) -> None:
    for name in ("one.mid", "two.mid"):
        assert _run(*_TAKES, "-o", name, "-q", cwd=folder).stdout == ""
    assert (folder / "one.mid").read_bytes() == (folder / "two.mid").read_bytes()


def test_json_by_hand_and_dry(folder: Path) -> None:
    (folder / "hand.toml").write_text('[take]\nverse = 3\n"9-10" = "take-4.mid"\n')
    words = (*_TAKES, "-o", "best.mid", "--by-hand", "hand.toml", "--json", "--dry-run")
    told = json.loads(_run(*words, cwd=folder).stdout)
    assert not (folder / "best.mid").exists()
    takes = {row["first_bar"]: row["take"] for row in told["sections"]}
    assert (takes[1], takes[9]) == ("take-3.mid", "take-4.mid")
    assert told["dry_run"] is True


def test_on_a_song(folder: Path) -> None:
    words = (*_TAKES, "-o", "best.mid", "--song", "take-1.mid", "--song-at", "3:1")
    assert _run(*words, cwd=folder).returncode == 0
    best = read_take(folder / "best.mid")
    assert best.meter.position(float(best.hits().tick[0])).bar in (2, 3)


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (["take-1.mid", "-o", "b.mid"], 2, "two takes or more"),
        ([*_TAKES, "-o", "take-1.mid"], 1, "is the input itself"),
        ([*_TAKES, "-o", "b.mid", "--song-at", "1:1"], 2, "--song-at says where"),
        ([*_TAKES, "-o", "b.mid", "--song", "take-1.mid", "--song-at", "x"], 2, "--song-at: 'x'"),
        ([*_TAKES, "-o", "b.mid", "--by-hand", "none.toml"], 1, "none.toml can't be read"),
        ([*_TAKES, "-o", "b.mid", "--by-hand", "bad.toml"], 1, "bad.toml: unknown table"),
        (["take-1.mid", "other.mid", "-o", "b.mid"], 1, "no takes of one song"),
    ],
)
def test_refusals(folder: Path, words: list[str], code: int, message: str) -> None:
    from tests.build import drum_bytes

    (folder / "bad.toml").write_text("[takes]\n")
    (folder / "other.mid").write_bytes(drum_bytes([(0, 36)], bpm=60))
    done = _run(*words, cwd=folder)
    assert (done.returncode, done.stdout) == (code, "")
    assert len(done.stderr.splitlines()) == 1
    assert message in done.stderr
