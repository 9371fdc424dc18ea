"""`assess`, `fit` and `tighten --fit` as a user runs them."""

import csv
import io
import json
import subprocess
from pathlib import Path

import mido
import pytest
from tests.build import HAT, KICK, SNARE, drum_bytes
from tests.commands import run

from evenhand import read_recipe, read_take
from evenhand.jobs.demo_take import demo_take

# Played at 92.9 bpm, while the file says 120: 620 ticks to the beat.
BEAT = 620
BPM = 120 * 480 / 620


def _played() -> bytes:
    notes = []
    for bar in range(1, 17):
        start = bar * 4 * BEAT
        notes += [(start + step * BEAT // 2, HAT) for step in range(8)]
        notes += [(start + 7, KICK), (start + 2 * BEAT, KICK), (start + 5 * BEAT // 2 - 9, KICK)]
        notes += [(start + BEAT + 11, SNARE), (start + 3 * BEAT - 5, SNARE)]
    return drum_bytes(notes)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "song.mid").write_bytes(demo_take())
    (tmp_path / "wrong.mid").write_bytes(_played())
    return tmp_path


def _run(*words: str, cwd: Path) -> subprocess.CompletedProcess[bytes]:
    return run(*words, cwd=cwd)


def test_assess_shows_a_page(folder: Path) -> None:
    done = _run("assess", "song.mid", cwd=folder)
    assert (done.returncode, done.stderr) == (0, b"")
    text = done.stdout.decode()
    for word in ("sections: from the markers", "verse 1", "limbs", "outliers", "latency", "try"):
        assert word in text


def test_assess_as_json_and_csv(folder: Path) -> None:
    told = json.loads(_run("assess", "song.mid", "--json", cwd=folder).stdout)
    assert told["whole"]["anchors"]["hits"] > 0
    assert told["tempo_doubt"] == ""
    table = _run("assess", "song.mid", "wrong.mid", "--csv", cwd=folder).stdout.decode()
    rows = list(csv.DictReader(io.StringIO(table)))
    assert {row["take"] for row in rows} == {"song.mid", "wrong.mid"}
    verse = next(row for row in rows if (row["section"], row["piece"]) == ("verse 1", "anchors"))
    assert float(verse["lean_ms"]) == pytest.approx(
        told["sections"][2]["anchors"]["lean"], abs=0.001
    )


def test_several_takes_get_a_row_each(folder: Path) -> None:
    lines = _run("assess", "song.mid", "wrong.mid", cwd=folder).stdout.decode().splitlines()
    assert lines[0] == "2 takes"
    assert [line.split()[0] for line in lines[2:]] == ["song.mid", "wrong.mid"]
    assert lines[3].endswith("tempo")


def test_the_suggested_recipe_can_be_used(folder: Path) -> None:
    done = _run("assess", "song.mid", "--write-recipe", "song.toml", cwd=folder)
    assert done.returncode == 0
    recipe = read_recipe(folder / "song.toml")
    assert [(one.name, one.bars) for one in recipe.section][:3] == [
        ("count-in", "1"),
        ("intro", "2-9"),
        ("verse 1", "10-25"),
    ]
    wanted = {"grid": "1/16", "swing": 50, "window": 14, "strength": 75}
    assert all(dict(one.settings) == wanted for one in recipe.section)
    told = json.loads(
        _run("assess", "song.mid", "--write-recipe", "2.toml", "--json", cwd=folder).stdout
    )
    assert told["recipe_written"] == "2.toml"
    assert (folder / "2.toml").read_bytes() == (folder / "song.toml").read_bytes()
    assert _run("tighten", "song.mid", "--recipe", "song.toml", cwd=folder).returncode == 0
    again = _run("assess", "song.mid", "--write-recipe", "song.toml", cwd=folder)
    assert again.returncode == 1
    assert b"--overwrite" in again.stderr


def test_a_wrong_tempo_is_noticed_and_mended(folder: Path) -> None:
    assert b"the hits say 92.9" in _run("assess", "wrong.mid", cwd=folder).stdout
    done = _run("fit", "wrong.mid", cwd=folder)
    assert done.returncode == 0
    assert b"92.9" in done.stdout
    fitted = mido.MidiFile(folder / "wrong-fitted.mid")
    tempi = [one.tempo for one in fitted.tracks[0] if one.type == "set_tempo"]
    assert mido.tempo2bpm(tempi[-1]) == pytest.approx(BPM, rel=0.001)
    assert b"evenhand fit" not in _run("assess", "wrong-fitted.mid", cwd=folder).stdout
    assert (folder / "wrong.mid").read_bytes() == _played()


def test_fit_and_tighten_in_one_go(folder: Path) -> None:
    done = _run("tighten", "wrong.mid", "--fit", "--json", cwd=folder)
    told = json.loads(done.stdout)
    assert told["fit"]["bpm"] == pytest.approx(BPM, rel=0.001)
    assert told["figures"]["strokes"]["off grid"] == 0
    _run("fit", "wrong.mid", "-o", "by-hand.mid", cwd=folder)
    _run("tighten", "by-hand.mid", cwd=folder)
    assert (folder / "by-hand-tight.mid").read_bytes() == (folder / "wrong-tight.mid").read_bytes()


def test_latency_is_taken_out_only_if_asked(folder: Path) -> None:
    late = [(tick + 24, note) for tick in range(0, 40 * 480, 480) for note in (KICK, HAT)]
    (folder / "late.mid").write_bytes(drum_bytes(late))
    plain = json.loads(_run("tighten", "late.mid", "--json", "--dry-run", cwd=folder).stdout)
    assert plain["latency"] == 0
    asked = _run("tighten", "late.mid", "--latency", "auto", "--strength", "0", cwd=folder)
    assert b"latency 25 ms taken out" in asked.stdout
    assert read_take(folder / "late-tight.mid").hits().tick.tolist() == [
        tick - 24 for tick, _ in late
    ]


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (("fit", "few.mid"), 1, "can't tell the tempo"),
        (("fit", "heap.mid"), 1, "can't tell the tempo"),
        (("fit", "wrong.mid", "--near", "nan"), 2, "--near"),
        (("fit", "wrong.mid", "--meter", "4/3"), 2, "--meter"),
        (("fit", "wrong.mid", "--steady", "--follow"), 2, "exclude"),
        (("fit", "wrong.mid", "--smooth", "0"), 2, "--smooth"),
        (("fit", "wrong.mid", "--first-beat", "inf"), 2, "--first-beat"),
        (("fit", "wrong.mid", "-o", "wrong.mid", "--overwrite"), 1, "input"),
        (("tighten", "wrong.mid", "--near", "96"), 2, "--fit"),
        (("assess", "wrong.mid", "--csv", "--json"), 2, "--csv"),
        (("assess", "wrong.mid", "song.mid", "--write-recipe", "x.toml"), 2, "one take"),
        (("assess", "wrong.mid", "--sections", "verses"), 2, "--sections"),
        (("assess", "wrong.mid", "--grid", "1/7"), 2, "--grid"),
        (("assess", "gone.mid"), 1, "gone.mid"),
    ],
)
def test_what_makes_no_sense_is_refused(
    folder: Path, words: tuple[str, ...], code: int, message: str
) -> None:
    (folder / "few.mid").write_bytes(drum_bytes([(0, KICK), (480, SNARE)]))
    (folder / "heap.mid").write_bytes(drum_bytes([(480, note) for note in range(35, 60)]))
    done = _run(*words, cwd=folder)
    assert done.returncode == code
    assert message in done.stderr.decode()
    assert b"Traceback" not in done.stderr
    assert done.stderr.count(b"\n") == 1


def test_a_roll_is_refused_unless_hinted(folder: Path) -> None:
    (folder / "roll.mid").write_bytes(drum_bytes([(tick, SNARE) for tick in range(0, 9000, 41)]))
    refused = _run("fit", "roll.mid", cwd=folder)
    assert refused.returncode == 1
    assert b"can't tell the tempo, because it is one even run" in refused.stderr
    assert not (folder / "roll-fitted.mid").exists()
    told = json.loads(_run("fit", "roll.mid", "--near", "120", "--json", cwd=folder).stdout)
    assert told["bpm"] == pytest.approx(120, rel=0.2)
