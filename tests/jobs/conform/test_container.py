"""Files: what is not sound stays as it stands, byte by byte; what can't be kept is refused."""

import os
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from evenhand.errors import DiskError, EvenhandError, SoundError
from evenhand.jobs.conform.container import read_layout
from evenhand.jobs.conform.flac import blocks
from evenhand.jobs.conform.microphone import open_microphones

_NOISE = np.random.default_rng(1).integers(-(2**31), 2**31, (3001, 3)).astype(np.int32)
_KINDS = [
    *(("WAV", subtype) for subtype in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")),
    *((kind, subtype) for kind in ("WAVEX", "RF64", "W64") for subtype in ("PCM_24", "FLOAT")),
    *(("AIFF", subtype) for subtype in ("PCM_S8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")),
    *(("FLAC", subtype) for subtype in ("PCM_S8", "PCM_16", "PCM_24")),
]


def _copied(path: Path) -> Path:
    """Write a file anew: copied, made of its own numbers, copied."""
    new = path.with_name("new-" + path.name)
    with open_microphones([path]) as (one,), one.anew(new) as writer:
        writer.copy(0, 1000)
        writer.put(one.exact(1000, 1001))
        writer.copy(2001, one.layout.frames - 2001)
    return new


@pytest.mark.parametrize(("kind", "subtype"), _KINDS)
def test_every_kind_is_read_like_soundfile_reads_it_and_written_bit_by_bit(
    tmp_path: Path, kind: str, subtype: str
) -> None:
    path = tmp_path / "a.sound"
    soundfile.write(path, _NOISE, 44_100, subtype, format=kind)
    known, rate = soundfile.read(path, dtype="float64")
    with open_microphones([path]) as (one,):
        assert (one.layout.rate, one.layout.frames, one.layout.channels) == (rate, 3001, 3)
        full = one.layout.encoding.full
        assert np.array_equal(one.exact(0, 3001) / full, known)
        # Float32 holds 24 bits; louder samples of DOUBLE have larger steps.
        assert np.allclose(one.listen(0, 3001), known, rtol=2e-7, atol=2e-7)
        assert not one.exact(-5, 5).any()
        assert not one.listen(3001, 7).any()
    new = _copied(path)
    assert np.array_equal(soundfile.read(new, dtype="float64")[0], known)
    if kind != "FLAC":
        assert new.read_bytes() == path.read_bytes()


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def _wave(sound: bytes, before: bytes = b"", after: bytes = b"", size: int | None = None) -> bytes:
    form = _chunk(b"fmt ", struct.pack("<HHIIHH", 1, 1, 48_000, 96_000, 2, 16))
    data = b"data" + struct.pack("<I", len(sound) if size is None else size) + sound
    body = b"WAVE" + before + form + data + b"\0" * (len(sound) % 2) + after
    return b"RIFF" + struct.pack("<I", len(body)) + body


def test_time_reference_and_unknown_chunks_stay(tmp_path: Path) -> None:
    # Broadcast extension (EBU Tech 3285; from memory): the time reference is 8 bytes at 338.
    bext = bytes(338) + struct.pack("<Q", 123_456_789) + bytes(256)
    sound = np.arange(-3000, 3000, dtype="<i2").tobytes()
    data = _wave(sound, _chunk(b"bext", bext) + _chunk(b"odd!", b"abc"), _chunk(b"cue ", b"12345"))
    path = tmp_path / "a.wav"
    path.write_bytes(data)
    assert _copied(path).read_bytes() == data


def test_size_of_rf64_stands_in_its_own_chunk(tmp_path: Path) -> None:
    # EBU Tech 3306 (from memory): RIFF size, data size and samples, 8 bytes each, then a table.
    sound = np.arange(4000, dtype="<i2").tobytes()
    data = bytearray(_wave(sound, size=0xFFFFFFFF, before=_chunk(
        b"ds64", struct.pack("<QQQI", 0, len(sound), 4000, 0))))  # fmt: skip
    data[:8] = b"RF64\xff\xff\xff\xff"
    path = tmp_path / "a.wav"
    path.write_bytes(data)
    layout = read_layout(path)
    assert layout
    assert (layout.kind, layout.frames) == ("RF64", 4000)
    assert _copied(path).read_bytes() == data


def test_blocks_of_flac_are_carried_over(tmp_path: Path) -> None:
    path = tmp_path / "a.flac"
    soundfile.write(path, _NOISE, 48_000, "PCM_24")
    # An application block and a picture's, put between by hand (RFC 9639, section 8; from memory).
    plain, begin = blocks(path)
    picture = struct.pack(">II", 3, 9) + b"image/png" + struct.pack(">6I", 0, 1, 1, 24, 0, 4)
    mine = [(2, b"riffbext" + bytes(602)), (6, picture + b"abcd")]
    parts = [plain[0], *mine, *plain[1:]]
    head = b"fLaC" + b"".join(
        bytes([kind | (0x80 if number == len(parts) - 1 else 0)])
        + len(content).to_bytes(3, "big")
        + content
        for number, (kind, content) in enumerate(parts)
    )
    path.write_bytes(head + path.read_bytes()[begin:])
    new = blocks(_copied(path))[0]
    assert all(block in new for block in mine)
    assert [kind for kind, _ in new].count(0) == 1


def _aiff(channels: int, offset: int = 0) -> bytes:
    form = struct.pack(">hIh10s", channels, 50, 16, b"\x40\x0e\xbb\x80" + bytes(6))
    sound = struct.pack(">II", offset, 0) + bytes(100)
    chunks = ((b"COMM", form), (b"SSND", sound))
    body = b"".join(name + struct.pack(">I", len(data)) + data for name, data in chunks)
    return b"FORM" + struct.pack(">I", 4 + len(body)) + b"AIFF" + body


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is no WAV"),
        (b"MThd\0\0\0\6 a take", "is no WAV"),
        (_wave(bytes(100))[:30], "cut short"),
        (_wave(bytes(100), size=1000), "promises 500 samples and holds 50"),
        (b"RIFF\4\0\0\0WAVE", "holds no sound"),
        (b"fLaC and then nothing", "can't be read as FLAC"),
        (b"FORM\0\0\0\4AIFF", "holds no sound"),
        (_aiff(channels=0, offset=2**20), "contradicts itself"),
        (_aiff(channels=-1), "contradicts itself"),
    ],
)
def test_damaged_files_are_refused_in_one_line(tmp_path: Path, data: bytes, said: str) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(data)
    with pytest.raises(SoundError, match=said) as told, open_microphones([path]):
        pass
    assert str(path) in str(told.value)


@pytest.mark.parametrize("subtype", ["ULAW", "MS_ADPCM"])
def test_compressed_sound_is_refused(tmp_path: Path, subtype: str) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, _NOISE[:, :1], 48_000, subtype)
    with pytest.raises(SoundError, match="compressed"), open_microphones([path]):
        pass


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "missing.wav"):
        with pytest.raises(DiskError, match=str(path)), open_microphones([path]):
            pass


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    with pytest.raises(DiskError, match="pipe"), open_microphones([tmp_path / "pipe.wav"]):
        pass


@pytest.mark.parametrize("odd", [np.nan, np.inf, 3e38])
def test_numbers_that_are_no_sound_are_refused(tmp_path: Path, odd: float) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, np.array([0.1, odd, 0.2], np.float32), 48_000, "FLOAT")
    with open_microphones([path]) as (one,), pytest.raises(SoundError, match="no sound"):
        one.listen(0, 3)


def test_random_bytes_never_crash(tmp_path: Path) -> None:
    random = np.random.default_rng(7)
    whole = bytearray(_wave(np.arange(400, dtype="<i2").tobytes(), _chunk(b"LIST", b"INFO")))
    path = tmp_path / "a.wav"
    for _ in range(300):
        data = bytearray(whole)
        for at in random.integers(0, 80, 3):
            data[at] = random.integers(0, 256)
        path.write_bytes(data)
        try:
            with open_microphones([path]) as (one,):
                assert one.layout.end <= len(data)
                assert len(one.listen(0, one.layout.frames)) == one.layout.frames
        except EvenhandError:
            pass
