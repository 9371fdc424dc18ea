"""One sound file of the recording: read in stretches, and written anew from stretches."""

import contextlib
import threading
from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from evenhand.columns import Bytes, Floats
from evenhand.errors import DiskError, SoundError
from evenhand.jobs.conform.container import SoundLayout, read_layout
from evenhand.jobs.conform.encoding import Encoding, Signal
from evenhand.jobs.conform.flac import SUBTYPES, keep_blocks
from evenhand.take import open_plain, why

#: Full scale is 1; sums of squares of what is louder leave the range of float32.
_LOUDEST = 1e12

#: Bytes that are copied at once.
_COPY = 1 << 22


class Writer(ABC):
    """A new file, from its start to its end."""

    @abstractmethod
    def copy(self, start: int, count: int) -> None:
        """Frames of the old file, bit by bit."""

    @abstractmethod
    def put(self, numbers: Floats) -> None:
        """Frames made anew, shape (n, channels), in the file's own numbers."""


class Microphone(ABC):
    """An open sound file.

    Attributes
    ----------
    path : Path
    layout : SoundLayout
    """

    path: Path
    layout: SoundLayout

    @abstractmethod
    def listen(self, start: int, count: int) -> Signal:
        """Frames as float32, shape (count, channels), full scale 1; silence beyond both ends."""

    @abstractmethod
    def exact(self, start: int, count: int) -> Floats:
        """The same as float64 in the file's own numbers."""

    @abstractmethod
    @contextlib.contextmanager
    def anew(self, path: Path) -> Iterator[Writer]:
        """Write a new file; its sound must come out as long as the old one's."""

    @abstractmethod
    def close(self) -> None:
        """Let the file go."""


@contextlib.contextmanager
def open_microphones(paths: list[Path]) -> Iterator[list[Microphone]]:
    """Open sound files.

    Raises
    ------
    DiskError, SoundError
        If one can't be read, or is of a kind that is not.
    """
    with contextlib.ExitStack() as stack:
        opened: list[Microphone] = []
        for path in paths:
            layout = read_layout(path)
            one: Microphone = _Plain(path, layout) if layout else _Flac(path)
            stack.callback(one.close)
            opened.append(one)
        yield opened


def _within(start: int, count: int, frames: int) -> tuple[int, int]:
    """The part of a stretch that lies inside the file: its start, and how long it is."""
    begin = min(max(start, 0), frames)
    return begin, max(0, min(start + count, frames) - begin)


class _Plain(Microphone):
    """A file in which the sound stands as plain samples."""

    def __init__(self, path: Path, layout: SoundLayout) -> None:
        self.path, self.layout = path, layout
        # Threads share the file, and with it its place.
        self._lock = threading.Lock()
        try:
            self._file = open_plain(path).detach()
        except OSError as error:
            raise DiskError(f"{path} can't be read: {why(error)}") from error

    def close(self) -> None:
        self._file.close()

    def listen(self, start: int, count: int) -> Signal:
        heard = self.layout.encoding.listen(self._raw(start, count))
        # Also not where a number is none at all.
        if self.layout.encoding.kind == "float" and not np.abs(heard).max(initial=0) <= _LOUDEST:
            bad = int(np.argmax(~(np.abs(heard.ravel()) <= _LOUDEST))) // self.layout.channels
            raise SoundError(
                f"{self.path} holds numbers that are no sound near sample {start + bad}, or over "
                f"{_LOUDEST:g} times full scale; save it anew in an audio program first"
            )
        return heard.reshape(-1, self.layout.channels)

    def exact(self, start: int, count: int) -> Floats:
        raw = self._raw(start, count)
        return self.layout.encoding.exact(raw).reshape(-1, self.layout.channels)

    def _raw(self, start: int, count: int) -> Bytes:
        layout = self.layout
        begin, inside = _within(start, count, layout.frames)
        if inside == count:
            raw = np.empty(count * layout.step, np.uint8)
            self._read(layout.begin + begin * layout.step, raw)
            return raw
        silence = np.frombuffer(layout.encoding.silence, np.uint8)
        raw = np.tile(silence, count * layout.channels)
        if inside:
            first = (begin - start) * layout.step
            part = raw[first : first + inside * layout.step]
            self._read(layout.begin + begin * layout.step, part)
        return raw

    def _read(self, at: int, into: Bytes) -> None:
        try:
            with self._lock:
                self._file.seek(at)
                view = into.data
                while len(view):
                    got = self._file.readinto(view)
                    if not got:
                        raise SoundError(f"{self.path} has become shorter while it was read")
                    view = view[got:]
        except OSError as error:
            raise DiskError(f"{self.path} can't be read: {why(error)}") from error

    @contextlib.contextmanager
    def anew(self, path: Path) -> Iterator[Writer]:
        with path.open("wb") as file:
            writer = _PlainWriter(self, file)
            writer.bytes(0, self.layout.begin)
            yield writer
            writer.bytes(self.layout.end, self._file.seek(0, 2) - self.layout.end)

    def raw(self, start: int, count: int) -> Bytes:
        """Frames as bytes."""
        return self._raw(start, count)

    def read_bytes(self, at: int, into: Bytes) -> None:
        """Bytes of the file, whatever they are."""
        self._read(at, into)


class _PlainWriter(Writer):
    def __init__(self, source: _Plain, file: BinaryIO) -> None:
        self._source, self._file = source, file

    def copy(self, start: int, count: int) -> None:
        most = max(1, _COPY // self._source.layout.step)
        for at in range(start, start + count, most):
            self._file.write(self._source.raw(at, min(most, start + count - at)).data)

    def put(self, numbers: Floats) -> None:
        self._file.write(self._source.layout.encoding.encode(numbers.ravel()))

    def bytes(self, at: int, count: int) -> None:
        for begin in range(at, at + count, _COPY):
            part = np.empty(min(_COPY, at + count - begin), np.uint8)
            self._source.read_bytes(begin, part)
            self._file.write(part.data)


class _Flac(Microphone):
    """A FLAC file: its samples are whole numbers, and are written as the same whole numbers."""

    def __init__(self, path: Path) -> None:
        import soundfile

        self.path = path
        self._lock = threading.Lock()
        try:
            self._file: Any = soundfile.SoundFile(path)
        except (soundfile.SoundFileError, OSError) as error:
            raise SoundError(f"{path} can't be read as FLAC") from error
        file = self._file
        bits = SUBTYPES.get(file.subtype)
        if not bits:
            raise SoundError(f"{path} has samples of an odd size ({file.subtype}); save it as WAV")
        encoding = Encoding(bits // 8, "int")
        self.layout = SoundLayout("FLAC", file.samplerate, file.channels, file.frames, encoding)
        self._shift = 32 - bits

    def close(self) -> None:
        self._file.close()

    def listen(self, start: int, count: int) -> Signal:
        return np.asarray(self.whole(start, count) * np.float32(2.0**-31), np.float32)

    def exact(self, start: int, count: int) -> Floats:
        return np.asarray(self.whole(start, count) >> self._shift, np.float64)

    def whole(self, start: int, count: int) -> Any:
        """Frames as int32, the highest bits used, as soundfile gives and takes them."""
        import soundfile

        begin, inside = _within(start, count, self.layout.frames)
        out = np.zeros((count, self.layout.channels), np.int32)
        if inside:
            try:
                with self._lock:
                    self._file.seek(begin)
                    part = self._file.read(inside, "int32", always_2d=True)
            except soundfile.SoundFileError as error:
                raise SoundError(f"{self.path} is damaged near sample {begin}") from error
            if len(part) < inside:
                raise SoundError(f"{self.path} is cut short at sample {begin + len(part)}")
            out[begin - start : begin - start + inside] = part
        return out

    @contextlib.contextmanager
    def anew(self, path: Path) -> Iterator[Writer]:
        import soundfile

        layout = self.layout
        bare = path.with_name(path.name + ".bare")
        try:
            try:
                with soundfile.SoundFile(
                    bare, "w", layout.rate, layout.channels, self._file.subtype, format="FLAC"
                ) as file:
                    yield _FlacWriter(self, file, self._shift)
            except soundfile.LibsndfileError as error:
                # libsndfile does not say what the system said; nearly always it is this.
                raise OSError("the disk is full, or failing") from error
            keep_blocks(self.path, bare, path)
        finally:
            bare.unlink(missing_ok=True)


class _FlacWriter(Writer):
    def __init__(self, source: _Flac, file: Any, shift: int) -> None:
        self._source, self._file, self._shift = source, file, shift

    def copy(self, start: int, count: int) -> None:
        most = max(1, _COPY // (4 * self._source.layout.channels))
        for at in range(start, start + count, most):
            self._file.write(self._source.whole(at, min(most, start + count - at)))

    def put(self, numbers: Floats) -> None:
        full = self._source.layout.encoding.full
        whole = np.clip(np.rint(numbers), -full, full - 1).astype(np.int32)
        self._file.write(whole << self._shift)


@dataclass(frozen=True)
class Size:
    """What all files must share: rate and length."""

    rate: int
    frames: int


def common_size(microphones: list[Microphone]) -> Size:
    """Rate and length of all files.

    Raises
    ------
    SoundError
        If they differ, or there is no sound.
    """
    first = microphones[0]
    for one in microphones:
        if one.layout.rate != first.layout.rate:
            raise SoundError(
                f"{one.path} has {one.layout.rate} Hz and {first.path} {first.layout.rate} Hz; "
                "all files must have one rate"
            )
        if one.layout.frames != first.layout.frames:
            raise SoundError(
                f"{one.path} is {one.layout.frames} samples long and {first.path} "
                f"{first.layout.frames}; export them from one start to one end"
            )
    if not first.layout.frames:
        raise SoundError(f"{first.path} holds no sound")
    return Size(first.layout.rate, first.layout.frames)
