"""The sound bank of pretty_midi as one-shots."""

import shutil
import struct
from pathlib import Path

import numpy as np
import pytest

from evenhand.errors import DiskError
from evenhand.sound import bank
from evenhand.sound.bank import bank_path, bank_samples
from evenhand.sound.voice_names import VOICES


@pytest.fixture(scope="module")
def shots():
    return bank_samples(VOICES)


def test_every_voice_has_a_sound(shots) -> None:
    for voice, shot in shots.items():
        assert shot.rate in (22_050, 44_100), voice
        assert 0.05 < len(shot.signal) / shot.rate <= 1.801, voice
        assert np.isfinite(shot.signal).all(), voice
        assert 0.1 < np.abs(shot.signal).max() < 1.3, voice


def test_every_sound_begins_at_its_first_sample(shots) -> None:
    for voice, shot in shots.items():
        size = np.abs(shot.signal)
        first = np.argmax(size >= 0.1 * size.max())
        assert first / shot.rate < 0.0007, voice


def test_every_sound_ends_in_silence(shots) -> None:
    for voice, shot in shots.items():
        assert np.abs(shot.signal[-20:]).max() < 0.01, voice


def sample_headers() -> dict[str, tuple[int, int, int]]:
    """Start, end and rate of each sample, straight from the bytes.

    SoundFont 2.01, 7.10 (from memory): 46-byte records in the chunk `shdr`.
    """
    data = bank_path().read_bytes()
    at = data.index(b"shdr")
    size = struct.unpack_from("<I", data, at + 4)[0]
    headers = {}
    for record in range(at + 8, at + 8 + size, 46):
        name, start, end, _, _, rate = struct.unpack_from("<20sIIIII", data, record)
        headers[name.split(b"\0")[0].decode()] = (start, end, rate)
    return headers


@pytest.mark.parametrize(
    ("voice", "name", "cents"),
    [
        # Key minus root key of the zone, and its fine tuning, as the bank's zones say.
        ("kick", "Bass Drum New", 100 * (36 - 47) - 34),
        ("side stick", "Rim Shot", 100 * (37 - 48) - 25),
        ("hat", "High Hat Closed", 100 * (42 - 46) - 19),
    ],
)
def test_pitch_shows_in_the_length(shots, voice: str, name: str, cents: int) -> None:
    start, end, rate = sample_headers()[name]
    seconds = (end - start) / rate / 2 ** (cents / 1200)
    got = len(shots[voice].signal) / shots[voice].rate
    # Shorter by what was cut before the hit and after it has died away, never longer.
    assert 0.75 * seconds < got <= seconds + 0.001


def test_missing_bank(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bank.importlib.util, "find_spec", lambda _: None)
    with pytest.raises(DiskError, match="install pretty_midi again"):
        bank_samples(["kick"])


@pytest.mark.parametrize("size", [0, 10, 1000, 5_990_000])
def test_damaged_bank(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, size: int) -> None:
    copy = tmp_path / "bank.sf2"
    shutil.copy(bank_path(), copy)
    copy.write_bytes(copy.read_bytes()[:size])
    monkeypatch.setattr(bank, "bank_path", lambda: copy)
    with pytest.raises(DiskError, match="can't be read"):
        bank_samples(["kick"])
