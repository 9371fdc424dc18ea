"""Samples: velocity, the filter, other rates, the user's own files."""

import os
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from evenhand.errors import DiskError, SettingError
from evenhand.sound.samples import (
    OneShot,
    at_rate,
    brightness_step,
    cutoff_hz,
    folder_samples,
    loudness,
    soften,
    stretch,
)


def test_amplitude_goes_with_the_square_of_velocity() -> None:
    # SoundFont 2.01, 8.4.1 (from memory): 40 dB per decade of velocity.
    assert loudness(127) == 1
    assert 20 * np.log10(loudness(64)) == pytest.approx(40 * np.log10(64 / 127))
    assert 20 * np.log10(loudness(13)) == pytest.approx(-39.6, abs=0.05)


def test_brightness_opens_by_two_octaves() -> None:
    steps = brightness_step(np.arange(128))
    assert steps[0] == 0
    assert steps[127] == 7
    assert (np.diff(steps) >= 0).all()
    assert cutoff_hz(7) == np.inf
    assert 20_000 / 4 < cutoff_hz(0) < cutoff_hz(6) < 20_000


def by_difference_equation(signal: np.ndarray, rate: int, cutoff: float) -> np.ndarray:
    """The same filter sample by sample, as the Web Audio API defines it (Q 0 dB)."""
    w0 = 2 * np.pi * cutoff / rate
    alpha = np.sin(w0) / 2
    b = [(1 - np.cos(w0)) / 2, 1 - np.cos(w0), (1 - np.cos(w0)) / 2]
    a = [1 + alpha, -2 * np.cos(w0), 1 - alpha]
    out: list[float] = []
    for here in range(len(signal)):
        value = sum(b[back] * signal[here - back] for back in range(3) if here >= back)
        value -= sum(a[back] * out[here - back] for back in (1, 2) if here >= back)
        out.append(value / a[0])
    return np.array(out)


@given(st.integers(0, 6), st.sampled_from([44_100, 48_000]), st.integers(0, 2**31))
def test_filter_equals_its_difference_equation(step: int, rate: int, seed: int) -> None:
    noise = np.random.default_rng(seed).standard_normal(300).astype(np.float32)
    softer = soften(noise, rate, cutoff_hz(step))
    assert softer == pytest.approx(by_difference_equation(noise, rate, cutoff_hz(step)), abs=1e-4)


def test_open_filter_changes_nothing() -> None:
    noise = np.random.default_rng(1).standard_normal(100).astype(np.float32)
    assert soften(noise, 44_100, np.inf) is noise


def test_other_rate_keeps_a_tone() -> None:
    seconds = np.arange(4410) / 22_050
    tone = np.sin(2 * np.pi * 1000 * seconds) * np.hanning(len(seconds))
    faster = at_rate(OneShot(22_050, tone.astype(np.float32)), 44_100)
    expected = np.interp(np.arange(len(faster)) / 44_100, seconds, np.hanning(len(seconds)))
    expected *= np.sin(2 * np.pi * 1000 * np.arange(len(faster)) / 44_100)
    assert len(faster) == 2 * len(tone)
    assert faster == pytest.approx(expected, abs=0.005)


def test_step_two_is_an_octave_up() -> None:
    tone = np.sin(2 * np.pi * 0.02 * np.arange(4000)) * np.hanning(4000)
    spectrum = np.abs(np.fft.rfft(stretch(tone, 2.0)))
    assert np.argmax(spectrum) / 2000 == pytest.approx(0.04, abs=0.001)


def write(path: Path, seconds: float = 0.1, rate: int = 48_000, channels: int = 1) -> None:
    frames = int(seconds * rate)
    soundfile.write(path, np.full((frames, channels), 0.5), rate)


def test_own_samples(tmp_path: Path) -> None:
    write(tmp_path / "Kick.WAV")
    write(tmp_path / "hat.flac", channels=2)
    write(tmp_path / "tom-1.ogg", rate=44_100)
    found = folder_samples(tmp_path, ["kick", "hat open", "snare", "tom 1", "tom 2"])
    assert set(found) == {"kick", "hat open", "tom 1"}
    assert found["kick"].rate == 48_000
    assert found["hat open"].signal.ndim == 1
    assert found["hat open"].signal == pytest.approx(np.full(4800, 0.5), abs=1e-4)


def test_own_zone_wins_over_its_piece(tmp_path: Path) -> None:
    write(tmp_path / "hat.wav", 0.1)
    write(tmp_path / "hat-open.wav", 0.3)
    found = folder_samples(tmp_path, ["hat", "hat open"])
    assert len(found["hat open"].signal) == 3 * len(found["hat"].signal)


def test_bad_folders(tmp_path: Path) -> None:
    with pytest.raises(DiskError, match="can't be read"):
        folder_samples(tmp_path / "nowhere", ["kick"])
    with pytest.raises(SettingError, match=r"kick\.wav, snare-rim\.wav"):
        folder_samples(tmp_path, ["kick", "snare rim"])
    (tmp_path / "kick.wav").write_bytes(b"RIFF not a sound")
    with pytest.raises(DiskError, match="can't be read as sound"):
        folder_samples(tmp_path, ["kick"])
    write(tmp_path / "kick.wav", 20.1)
    with pytest.raises(DiskError, match="longer than 20 s"):
        folder_samples(tmp_path, ["kick"])
    write(tmp_path / "kick.wav", 0)
    with pytest.raises(DiskError, match="no sound"):
        folder_samples(tmp_path, ["kick"])
    soundfile.write(tmp_path / "kick.wav", np.array([0.1, np.nan]), 44_100, "FLOAT")
    with pytest.raises(DiskError, match="no sound"):
        folder_samples(tmp_path, ["kick"])


def test_files_that_hang_or_lead_elsewhere_are_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "kick.wav")
    with pytest.raises(DiskError, match="not a plain file"):
        folder_samples(tmp_path, ["kick"])
    (tmp_path / "kick.wav").unlink()
    (tmp_path / "kick.wav").symlink_to("/dev/zero")
    with pytest.raises(DiskError, match="but a link"):
        folder_samples(tmp_path, ["kick"])


def test_a_sample_as_loud_as_numbers_go_is_refused(tmp_path: Path) -> None:
    data = np.full((100, 2), 3e38, np.float32)
    soundfile.write(tmp_path / "kick.wav", data, 44_100, "FLOAT")
    with pytest.raises(DiskError, match="as loud as full scale"):
        folder_samples(tmp_path, ["kick"])


def test_a_file_that_sends_its_reader_ahead_of_itself_is_refused_in_silence(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    # An AIFF file with a chunk as long as a length can say.
    head = "464f524d00007d2e41494646434f4d4d00000012000100003e80001040094000000000000000"
    (tmp_path / "kick.wav").write_bytes(bytes.fromhex(head + "00000000ffffffff") + bytes(900))
    with pytest.raises(DiskError, match="can't be read as sound"):
        folder_samples(tmp_path, ["kick"])
    assert not capfd.readouterr().err
