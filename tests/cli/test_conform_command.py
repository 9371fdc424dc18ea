"""The command: what it refuses, what it says, and the page it writes."""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile
from tests.build import SNARE, TICKS_PER_MS, drum_bytes
from tests.jobs.conform.studio import RATE, burst, numbers, record, write
from tests.web.chromium import Opened
from typer.testing import CliRunner, Result

from evenhand.cli.app import app


def _run(*words: object) -> Result:
    return CliRunner().invoke(app, ["conform", *map(str, words)])


@pytest.fixture
def session(tmp_path: Path) -> list[Path]:
    """A take, a tighter one, and two microphones; in `tmp_path`."""
    gaps = np.random.default_rng(3).uniform(150, 500, 24)
    ms = np.rint((400 + np.cumsum(gaps)) * TICKS_PER_MS) / TICKS_PER_MS
    shift = np.zeros(24)
    shift[8], shift[15] = 18.75, -12.5
    for name, times in (("take", ms), ("tight", ms + shift)):
        notes = [(round(one * TICKS_PER_MS), SNARE) for one in times]
        (tmp_path / f"{name}.mid").write_bytes(drum_bytes(notes))
    sounds = [burst(number) for number in range(24)]
    heard = record(ms + 20, round((ms[-1] + 900) * RATE / 1000), sounds)
    return write(tmp_path / "mics", heard[:2])


def test_writes_all_files_and_lists(session: list[Path], tmp_path: Path) -> None:
    take, out = tmp_path / "take.mid", tmp_path / "out"
    done = _run(take, *session, "--to", tmp_path / "tight.mid", "-o", out, "--markers", "--json")
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["offset_ms"] == pytest.approx(20, abs=1)
    assert told["hits_moved"] == 2
    assert told["splices"] == 4
    assert sorted(told["files"]) == sorted(path.name for path in out.iterdir())
    with (out / "edits.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    # 18.75 ms are 900 samples, 12.5 are 600.
    assert [int(row["change_samples"]) for row in rows] == [900, -900, -600, 600]
    assert all(row["files"] == "2" for row in rows)
    sample = int(rows[0]["sample"])
    assert float(rows[0]["seconds"]) == pytest.approx(sample / RATE, abs=1e-6)
    for path in session:
        old, new = numbers(path), numbers(out / path.name)
        assert np.array_equal(old[:sample], new[:sample])
        assert not np.array_equal(old[sample:], new[sample:])
    markers = mido.MidiFile(out / "conform.markers.mid")
    kinds = {message.type for message in markers.tracks[0]}
    assert {"set_tempo", "time_signature"} <= kinds
    assert "note_on" not in kinds


def test_dry_run_writes_nothing_and_says_the_same(session: list[Path], tmp_path: Path) -> None:
    before = sorted(tmp_path.rglob("*"))
    done = _run(tmp_path / "take.mid", *session, "--to", tmp_path / "tight.mid", "--dry-run")
    assert done.exit_code == 0, done.stderr
    assert "2 of 24 hits in the audio moved; 4 splices" in done.stdout
    assert "nothing (dry run)" in done.stdout
    assert sorted(tmp_path.rglob("*")) == before


def test_follows_the_last_pass_on_record_or_the_one_asked_for(
    session: list[Path], tmp_path: Path
) -> None:
    take = tmp_path / "take.mid"
    missing = _run(take, *session, "--dry-run")
    assert missing.exit_code == 1
    assert "--to" in missing.stderr
    for options in (["--strength", "0"], ["--window", "0", "--strength", "100"]):
        words = ["tighten", str(take), "--overwrite", "--quiet", "--grid", "1/16", *options]
        assert CliRunner().invoke(app, words).exit_code == 0
    last = json.loads(_run(take, *session, "--dry-run", "--json").stdout)
    first = json.loads(_run(take, *session, "--dry-run", "--json", "--pass", "1").stdout)
    assert last["hits_moved"] > 5
    assert first["hits_moved"] == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "-o FOLDER"),
        (["--dry-run", "-o", "x"], "either -o FOLDER"),
        (["--dry-run", "--pass", "1", "--to", "x"], "only one of"),
        (["--dry-run", "--before", "0"], "--before"),
        (["--dry-run", "--before", "21"], "--before"),
        (["--dry-run", "--offset", "nan"], "--offset"),
    ],
)
def test_wrong_usage(session: list[Path], tmp_path: Path, words: list[str], said: str) -> None:
    done = _run(tmp_path / "take.mid", *session, *words)
    assert done.exit_code == 2
    assert said in done.stderr


def test_folders_that_would_hurt_are_refused(session: list[Path], tmp_path: Path) -> None:
    words = [tmp_path / "take.mid", *session, "--to", tmp_path / "tight.mid", "--overwrite", "-o"]
    for folder, said in ((session[0].parent, "lies in"), (tmp_path, "other files")):
        done = _run(*words, folder)
        assert done.exit_code == 1
        assert said in done.stderr
        assert len(done.stderr.splitlines()) == 1
    twin = tmp_path / "twin"
    twin.mkdir()
    (twin / session[0].name).write_bytes(session[0].read_bytes())
    done = _run(*words, tmp_path / "out", twin / session[0].name)
    assert done.exit_code == 1
    assert "have one name" in done.stderr


def test_what_is_no_sound_ends_in_one_line(session: list[Path], tmp_path: Path) -> None:
    take = tmp_path / "take.mid"
    done = _run(take, *session, take, "--to", tmp_path / "tight.mid", "--dry-run")
    assert done.exit_code == 1
    assert done.stderr.splitlines() == [
        f"evenhand: {take} is no WAV, RF64, Wave64, AIFF or FLAC file"
    ]


def test_page_shows_and_plays_each_place(
    session: list[Path], tmp_path: Path, opened: Callable[[Path], Opened]
) -> None:
    out = tmp_path / "out"
    done = _run(tmp_path / "take.mid", *session, "--to", tmp_path / "tight.mid", "-o", out, "-q")
    assert done.exit_code == 0, done.stderr
    page = opened(out / "conform.html")
    places = page.run("return document.querySelectorAll('#places > li').length")
    assert places == 4
    drawn = page.run(
        "const c = document.querySelector('canvas');"
        "const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;"
        "return d.some((value) => value > 0)"
    )
    assert drawn
    for button in page.driver.find_elements("css selector", "#places button")[:4]:
        button.click()
    assert page.console() == []
    assert page.requests() == []
    assert page.find("loudness-now").text == "-18 dB"


def test_ctrl_c_is_answered_in_a_whole_line(
    session: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("evenhand.jobs.conform.conform", interrupted)
    done = _run(tmp_path / "take.mid", *session, "--to", tmp_path / "tight.mid", "--dry-run")
    assert done.exit_code == 130
    assert done.stderr == "evenhand: interrupted; nothing was left half-written\n"


def test_what_a_dry_run_says_holds_for_writing(session: list[Path], tmp_path: Path) -> None:
    words = (tmp_path / "take.mid", session[0], session[0], "--to", tmp_path / "tight.mid")
    for how in (["--dry-run"], ["-o", tmp_path / "out"]):
        done = _run(*words, *how)
        assert done.exit_code == 1
        assert "have one name" in done.stderr


def test_a_wrong_offset_is_not_called_the_best_there_is(
    session: list[Path], tmp_path: Path
) -> None:
    words = (tmp_path / "take.mid", *session, "--to", tmp_path / "tight.mid", "--dry-run")
    done = _run(*words, "--offset", "-80")
    assert done.exit_code == 1
    assert "at the offset of -80.0 ms that was given" in done.stderr
    assert "without --offset" in done.stderr
    assert "best there is" not in done.stderr


def test_where_numbers_are_no_sound(session: list[Path], tmp_path: Path) -> None:
    sound, rate = soundfile.read(session[0], dtype="float32")
    sound[70_001] = np.nan
    soundfile.write(session[0], sound, rate, "FLOAT")
    words = (tmp_path / "take.mid", *session, "--to", tmp_path / "tight.mid", "--dry-run")
    done = _run(*words)
    assert done.exit_code == 1
    assert "no sound near sample 70001" in done.stderr
