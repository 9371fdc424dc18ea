"""`--song`, `--against` and `--markers`."""

import csv
import json
import subprocess
from pathlib import Path

import mido
import numpy as np
import pytest
from tests.commands import as_text, run
from tests.part.bass import bass, drums

from evenhand import Take, read_take
from evenhand.jobs.demo_take import demo_take


def _run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return as_text(run(*words, cwd=cwd))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The demo as an e-kit without a song would write it: at 120 bpm, whatever was played."""
    demo = Take.from_bytes(demo_take())
    (tmp_path / "kettle.mid").write_bytes(demo_take())
    midi = mido.MidiFile(type=1, ticks_per_beat=480)
    track = mido.MidiTrack()
    now = 0
    for at, note, loud in zip(demo.hits().ms, demo.hits().note, demo.hits().velocity, strict=True):
        tick = round(float(at) * 0.96)
        on = mido.Message("note_on", channel=9, note=int(note), velocity=int(loud))
        track.append(on.copy(time=tick - now))
        now = tick
    midi.tracks.append(track)
    midi.save(tmp_path / "take.mid")
    return tmp_path


def test_a_take_on_its_song(folder: Path) -> None:
    done = _run("tighten", "take.mid", "--song", "kettle.mid", "--json", cwd=folder)
    told = json.loads(done.stdout)
    assert told["tempo_bpm"] == [pytest.approx(108, abs=1e-3)]
    assert told["song"] == {"fits": True, "misfit": None}
    tight = read_take(folder / "take-tight.mid")
    names = [text for part in tight.smf.tracks for _, text in part.metas(6)]
    assert b"verse 1" in names
    # On the song the demo's faults are found as in the demo itself.
    alone = json.loads(_run("tighten", "kettle.mid", "--json", cwd=folder).stdout)
    assert abs(told["figures"]["actions"]["moved"] - alone["figures"]["actions"]["moved"]) <= 6


def test_a_song_makes_the_pass_repeatable(folder: Path) -> None:
    assert _run("tighten", "take.mid", "--song", "kettle.mid", cwd=folder).returncode == 0
    (folder / "kettle.mid").unlink()
    (folder / "take-tight.mid").rename(folder / "was.mid")
    done = _run("passes", "take.mid", "--verify", cwd=folder)
    assert done.returncode == 0, done.stdout + done.stderr
    (folder / "take.passes" / "0001" / "output.mid").unlink()
    assert _run("restore", "take.mid", "--pass", "1", "-o", "again.mid", cwd=folder).returncode == 0
    assert (folder / "again.mid").read_bytes() == (folder / "was.mid").read_bytes()


def test_a_misfit_is_told(folder: Path) -> None:
    words = ("--song", "kettle.mid", "--song-at", "0.2")
    told = json.loads(_run("tighten", "take.mid", *words, "--json", cwd=folder).stdout)
    assert told["song"]["fits"] is False
    beats = told["song"]["misfit"]["at_s"] * 108 / 60
    assert abs(beats - round(beats)) < 0.05
    page = _run("assess", "take.mid", *words, cwd=folder).stdout
    assert "doesn't lie on the song's map" in page


def test_a_song_beside_the_takes_of_a_batch(folder: Path) -> None:
    takes = folder / "takes"
    takes.mkdir()
    (folder / "take.mid").rename(takes / "take.mid")
    (folder / "kettle.mid").rename(takes / "song.mid")
    done = _run("batch", "takes", "-o", "out", "--workers", "1", cwd=folder)
    assert done.returncode == 0
    assert "song.mid: the song of the takes beside it" in done.stdout
    assert read_take(folder / "out" / "take-tight.mid").tempo.tempo.tolist() == [555556]
    # Another song is another result.
    (takes / "song.mid").write_bytes(demo_take().replace(b"verse 1", b"verse I"))
    again = _run("batch", "takes", "-o", "out", "--workers", "1", cwd=folder)
    assert "1 done" in again.stdout


def test_markers_beside_the_output(folder: Path) -> None:
    words = ("--song", "kettle.mid", "--markers", "--rate", "44100")
    done = _run("tighten", "take.mid", *words, cwd=folder)
    assert "take-tight.markers.mid" in done.stdout
    marked = read_take(folder / "take-tight.markers.mid")
    names = [text.decode() for part in marked.smf.tracks for _, text in part.metas(6)]
    assert "chorus 1" in names
    rows = list(csv.DictReader((folder / "take-tight.markers.csv").read_text().splitlines()))
    assert [row["text"] for row in rows] == names
    for row in rows:
        assert int(row["sample"]) == round(float(row["seconds"]) * 44100)


def test_assess_against_a_bass(tmp_path: Path) -> None:
    chance = np.random.default_rng(2)
    drums(chance).save(tmp_path / "take.mid")
    bass(chance, 12).save(tmp_path / "bass.mid")
    told = json.loads(
        _run("assess", "take.mid", "--against", "bass.mid:Bass", "--json", cwd=tmp_path).stdout
    )
    kick = told["together"]["pieces"]["kick"]
    assert kick["pairs"] == 96
    assert kick["ms"] == pytest.approx(-12, abs=4)
    assert kick["leads"] == "the take"
    page = _run("assess", "take.mid", "--against", "bass.mid", cwd=tmp_path).stdout
    assert "with bass.mid: 128 onsets on lines of the take" in page


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (["--song-at", "1:1"], 2, "--song-at needs --song"),
        (["--song", "take.mid"], 1, "take.mid: there is no tempo in it"),
        (["--song", "kettle.mid", "--song-at", "9999:9"], 1, "bar 9999 has 4 beats"),
        (["--song", "kettle.mid", "--song-at", "x"], 1, "song-at: 'x' is neither"),
        (["--song", "none.mid"], 1, "none.mid can't be read"),
        (["--song", "x.wav"], 2, "--song: 'x.wav' is no MIDI file"),
        (["--song", "kettle.mid", "--fit"], 1, "the song knows where its bars are"),
        (["--share", "50"], 2, "--share needs --against"),
        (["--against", "kettle.mid:Harp"], 1, "no track called 'Harp'"),
        (["--against", "empty.mid"], 1, "empty.mid: there are no onsets in it"),
        (["--rate", "48000"], 2, "ask for it with --markers"),
        (["--markers", "-o", "-"], 2, "--markers stand beside the output"),
    ],
)
def test_refusals(folder: Path, words: list[str], code: int, message: str) -> None:
    midi = mido.MidiFile(type=1)
    midi.tracks.append(mido.MidiTrack())
    midi.save(folder / "empty.mid")
    done = _run("tighten", "take.mid", *words, cwd=folder)
    assert message in done.stderr
    assert (done.returncode, done.stdout) == (code, "")
    assert len(done.stderr.splitlines()) == 1
