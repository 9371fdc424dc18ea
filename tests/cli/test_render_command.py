"""`evenhand render` through the real entry point."""

import json
import resource
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from tests.build import HAT, KICK, SNARE, drum_bytes, midi_bytes, track
from typer.testing import CliRunner

from evenhand.cli.app import app

GROOVE = [(480 * beat, (KICK, SNARE)[beat % 2]) for beat in range(8)]
GROOVE += [(240 * step, HAT, 70) for step in range(16)]


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "take.mid"
    path.write_bytes(drum_bytes(GROOVE))
    return path


def run(*words: str | Path, code: int = 0) -> str:
    done = CliRunner().invoke(app, ["render", *map(str, words)])
    assert done.exit_code == code, done.output
    return done.output


def test_writes_a_wav_beside_the_take(take: Path) -> None:
    told = run(take)
    sound, rate = soundfile.read(take.with_suffix(".wav"))
    assert rate == 44_100
    assert 20 * np.log10(np.abs(sound).max()) == pytest.approx(-1, abs=0.001)
    assert "gain " in told
    assert "take.wav" in told


@pytest.mark.parametrize("name", ["x.ogg", "x.flac", "x.WAV"])
def test_other_formats_and_rates(take: Path, name: str) -> None:
    run(take, "-o", take.with_name(name), "--rate", "48000")
    info = soundfile.info(take.with_name(name))
    assert info.samplerate == 48_000
    assert info.channels == 1


def test_stems_sum_to_the_mix(take: Path) -> None:
    run(take, "--click", "-20")
    told = json.loads(run(take, "--click", "-20", "--stems", "--json"))
    names = {Path(name).name for name in told["outputs"]}
    assert names == {"take-kick.wav", "take-snare.wav", "take-hat.wav", "take-click.wav"}
    mix, _ = soundfile.read(take.with_suffix(".wav"))
    total = np.zeros(len(mix))
    for name in told["outputs"]:
        stem, _ = soundfile.read(name)
        total[: len(stem)] += stem
    # Five files of 24 bits, each within one step of what was computed: -124 dBFS at most.
    assert np.abs(total - mix).max() <= 5 * 2**-23


def test_same_input_gives_the_same_bytes(take: Path) -> None:
    for kind in ("wav", "flac"):
        run(take, "-o", take.with_name(f"one.{kind}"))
        run(take, "-o", take.with_name(f"two.{kind}"))
        one, two = (take.with_name(f"{name}.{kind}").read_bytes() for name in ("one", "two"))
        assert one == two


def test_own_samples(take: Path, tmp_path: Path) -> None:
    folder = tmp_path / "kit"
    folder.mkdir()
    # At full velocity no filter smears the spike.
    take.write_bytes(drum_bytes([(tick, note, 127) for tick, note, *_ in GROOVE]))
    spike = np.zeros(50)
    spike[0] = 0.8
    for name in ("kick", "snare", "hat"):
        soundfile.write(folder / f"{name}.wav", spike, 44_100)
    told = json.loads(run(take, "--samples", folder, "--json"))
    assert told["from_sound_bank"] == []
    sound, _ = soundfile.read(take.with_suffix(".wav"))
    # Eighths at 120 bpm, 11,025 samples apart: nothing sounds anywhere else.
    assert np.flatnonzero(np.abs(sound) > 0.1).tolist() == [11_025 * step for step in range(16)]
    (folder / "hat.wav").unlink()
    assert "from the sound bank: hat" in run(take, "--samples", folder, "--overwrite")


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["--rate", "22050"], 2, "--rate: 22050"),
        (["--click", "nan"], 2, "--click: nan"),
        (["--click", "6"], 2, "--click: 6"),
        (["-o", "x.mp3"], 2, "ends in none of"),
        (["--samples", "nowhere"], 1, "nowhere"),
        (["--kit", "nowhere.toml"], 1, "nowhere.toml"),
        (["-o", "no/such/x.wav"], 1, "does not exist"),
    ],
)
def test_refusals(take: Path, words: list[str], code: int, told: str) -> None:
    before = sorted(take.parent.iterdir())
    assert told in run(take, *words, code=code)
    assert sorted(take.parent.iterdir()) == before


def test_existing_output_is_kept(take: Path) -> None:
    take.with_name("take-snare.wav").write_bytes(b"mine")
    assert "--overwrite" in run(take, "--stems", code=1)
    assert take.with_name("take-snare.wav").read_bytes() == b"mine"
    assert not take.with_name("take-kick.wav").exists()


def test_bad_takes(tmp_path: Path) -> None:
    empty, broken = tmp_path / "empty.mid", tmp_path / "broken.mid"
    empty.write_bytes(midi_bytes(track([])))
    broken.write_bytes(drum_bytes(GROOVE)[:60])
    endless = tmp_path / "endless.mid"
    endless.write_bytes(drum_bytes([(0, KICK), (2**27, KICK)], bpm=4))
    for path, told in ((empty, "no notes"), (broken, "broken.mid"), (endless, "hours long")):
        output = run(path, code=1)
        assert told in output
        assert output.count("\n") == 1
        assert not path.with_suffix(".wav").exists()


def test_full_disk_leaves_nothing(take: Path) -> None:
    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))

    done = subprocess.run(
        [sys.executable, "-c", "from evenhand.__main__ import main; main()", "render", take],
        capture_output=True, text=True, check=False, preexec_fn=limit,
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "can't be written" in done.stderr
    assert [path.name for path in take.parent.iterdir()] == ["take.mid"]
