"""Where the sound lies in a file: a walk over the chunks of WAV, RF64, Wave64 and AIFF.

Only the sound is ever replaced; every other byte is copied as it stands, so that whatever a
recorder has put there (time reference, markers, notes) is kept, known to us or not. Sources, from
memory: RIFF (Microsoft and IBM 1991), RF64 (EBU Tech 3306), BW64 (ITU-R BS.2088), AIFF-C (Apple
1991), the description of Wave64 by its maker.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from evenhand.errors import DiskError, SoundError
from evenhand.jobs.conform.encoding import Encoding
from evenhand.take import open_plain, why

#: A size that stands for "see the chunk ds64".
_ELSEWHERE = 0xFFFFFFFF

_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
#: Wave64: the names of its chunks are 16 bytes, of which the last 12 are always these two tails.
_W64_RIFF = b"riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00"
_W64_TAIL = b"\xf3\xac\xd3\x11\x8c\xd1\x00\xc0\x4f\x8e\xdb\x8a"

_AIFC = {
    b"NONE": ("int", True),
    b"twos": ("int", True),
    b"sowt": ("int", False),
    b"in24": ("int", True),
    b"in32": ("int", True),
    b"fl32": ("float", True),
    b"FL32": ("float", True),
    b"fl64": ("float", True),
    b"FL64": ("float", True),
}


@dataclass(frozen=True)
class SoundLayout:
    """What a file says of its sound.

    Attributes
    ----------
    kind : str
        `WAV`, `RF64`, `Wave64`, `AIFF`, `FLAC`.
    rate, channels, frames : int
    encoding : Encoding
    begin : int
        The first byte of the sound.
    """

    kind: str
    rate: int
    channels: int
    frames: int
    encoding: Encoding
    begin: int = 0

    @property
    def step(self) -> int:
        """Bytes of a frame."""
        return self.encoding.width * self.channels

    @property
    def end(self) -> int:
        """The byte behind the sound."""
        return self.begin + self.frames * self.step


def read_layout(path: Path) -> SoundLayout | None:
    """Find the sound in a file; None if it is FLAC, which has no plain sound in it.

    Raises
    ------
    DiskError
        If the file can't be read.
    SoundError
        If it is no sound file, of a kind that is not read, or damaged.
    """
    try:
        if path.is_dir():
            raise DiskError(f"{path} is a folder; name the sound files in it")
        with open_plain(path) as file:
            size = file.seek(0, 2)
            file.seek(0)
            head = file.read(40)
            if head[:4] == b"fLaC":
                return None
            found = _walk(file, head, size)
    except OSError as error:
        raise DiskError(f"{path} can't be read: {why(error)}") from error
    except (struct.error, ValueError) as error:
        raise SoundError(f"{path} is cut short inside its header") from error
    except SoundError as error:
        raise SoundError(f"{path} {error}") from None
    if found.end > size:
        raise SoundError(
            f"{path} promises {found.frames} samples and holds "
            f"{max(0, size - found.begin) // found.step}; save it anew in an audio program first"
        )
    if not (found.channels > 0 and 1000 <= found.rate <= 1_000_000):
        raise SoundError(f"{path} has {found.channels} channels at {found.rate} Hz: no sound")
    return found


def _walk(file: BinaryIO, head: bytes, size: int) -> SoundLayout:
    if head[:4] in (b"RIFF", b"RF64", b"BW64") and head[8:12] == b"WAVE":
        return _wave(head[:4], file, _chunks(file, 12, size, "<"))
    if head[:16] == _W64_RIFF:
        return _wave(b"W64", file, _wave64_chunks(file, size))
    if head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
        return _aiff(head[8:12] == b"AIFC", file, _chunks(file, 12, size, ">"))
    raise SoundError("is no WAV, RF64, Wave64, AIFF or FLAC file")


def _chunks(file: BinaryIO, at: int, size: int, order: str) -> Iterator[tuple[bytes, int, int]]:
    """Name, place and length of each chunk of a RIFF or AIFF file; chunks begin on even bytes."""
    while at + 8 <= size:
        file.seek(at)
        name, length = struct.unpack(f"{order}4sI", file.read(8))
        yield name, at + 8, length
        if length == _ELSEWHERE:
            return
        at += 8 + length + length % 2


def _wave64_chunks(file: BinaryIO, size: int) -> Iterator[tuple[bytes, int, int]]:
    """The same of Wave64: lengths count the header, chunks begin on every eighth byte."""
    at = 40
    while at + 24 <= size:
        file.seek(at)
        name, length = struct.unpack("<16sQ", file.read(24))
        if length < 24:
            raise SoundError("has a chunk shorter than its own header")
        yield name[:4] if name[4:] == _W64_TAIL else name, at + 24, length - 24
        at += (length + 7) // 8 * 8


def _wave(kind: bytes, file: BinaryIO, chunks: Iterator[tuple[bytes, int, int]]) -> SoundLayout:
    form: tuple[int, int, int, int, int] | None = None
    long = 0
    for name, at, length in chunks:
        file.seek(at)
        if name == b"ds64":
            long = struct.unpack("<8xQ", file.read(16))[0]
        elif name == b"fmt ":
            form = _wave_form(file.read(min(length, 40)))
        elif name == b"data":
            if not form:
                raise SoundError("has sound before it says of which kind")
            tag, channels, rate, align, bits = form
            elsewhere = length == _ELSEWHERE and kind in (b"RF64", b"BW64")
            encoding = _wave_encoding(tag, bits, align, channels)
            names = {b"RIFF": "WAV", b"W64": "Wave64"}
            frames = (long if elsewhere else length) // align
            return SoundLayout(names.get(kind, "RF64"), rate, channels, frames, encoding, begin=at)
    raise SoundError("holds no sound")


def _wave_form(data: bytes) -> tuple[int, int, int, int, int]:
    """Tag, channels, rate, bytes of a frame and bits."""
    tag, channels, rate, _, align, bits = struct.unpack("<HHIIHH", data[:16])
    if tag == _EXTENSIBLE:
        # The kind of sound stands in the first two bytes of a name of sixteen.
        tag = struct.unpack("<24xH", data[:26])[0]
    return tag, channels, rate, align, bits


def _wave_encoding(tag: int, bits: int, align: int, channels: int) -> Encoding:
    width = align // channels if channels else 0
    if align != width * channels or not width or bits > 8 * width:
        raise SoundError("contradicts itself in its header")
    if tag == _PCM and width in (1, 2, 3, 4):
        return Encoding(width, "unsigned" if width == 1 else "int")
    if tag == _FLOAT and width in (4, 8):
        return Encoding(width, "float")
    raise SoundError(
        f"has compressed or unknown sound (kind {tag:#x}, {bits} bits); save it as PCM"
    )


def _aiff(
    compressed: bool, file: BinaryIO, chunks: Iterator[tuple[bytes, int, int]]
) -> SoundLayout:
    form: tuple[int, int, int, bytes, bytes] | None = None
    sound: tuple[int, int] | None = None
    for name, at, length in chunks:
        file.seek(at)
        if name == b"COMM":
            form = struct.unpack(">hIh10s4s", (file.read(22) + b"NONE")[:22])
        elif name == b"SSND":
            offset = struct.unpack(">I4x", file.read(8))[0]
            sound = at + 8 + offset, length - 8 - offset
    if not form or not sound:
        raise SoundError("holds no sound")
    channels, frames, bits, rate, code = form
    code = code if compressed else b"NONE"
    if channels < 1 or sound[1] < 0:
        raise SoundError("contradicts itself in its header")
    width = (bits + 7) // 8
    if code not in _AIFC or width not in (1, 2, 3, 4, 8):
        raise SoundError(f"has compressed or unknown sound ({code!r}); save it as PCM")
    kind, big = _AIFC[code]
    if kind == "float":
        width = 8 if code.endswith(b"64") else 4
    if width * channels * frames > sound[1]:
        raise SoundError(f"promises {frames} samples and holds {sound[1] // (width * channels)}")
    return SoundLayout(
        "AIFF", _extended(rate), channels, frames, Encoding(width, kind, big), sound[0]
    )


def _extended(data: bytes) -> int:
    """A whole number from the 80-bit floating point of AIFF."""
    exponent, fraction = struct.unpack(">HQ", data)
    exponent = (exponent & 0x7FFF) - 16383 - 63
    return int(fraction >> -exponent if exponent < 0 else fraction << min(exponent, 64))
