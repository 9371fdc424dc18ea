"""Standard MIDI Files 1.0 (RP-001): bytes to chunks and back, byte for byte."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from evenhand.columns import Brief, Ints
from evenhand.errors import MidiFileError
from evenhand.take.track import Track, parse

#: Tracks of up to so many bytes are looked for among those just read.
_SHORT = 16

_LARGEST_DIVISION = 0x7FFF


@dataclass(frozen=True, eq=False)
class Smf(Brief):
    """A file as its chunks.

    Attributes
    ----------
    head : bytes
        The header chunk, whole; it may be longer than the standard's six bytes.
    format : int
        0 (one track) or 1 (tracks that play together).
    division : int
        Ticks per quarter note, 1 to 32767.
    parts : tuple of Track or bytes
        The chunks behind the header in file order, up to the last promised track: tracks taken
        apart, unknown chunks whole.
    tail : bytes
        Whatever follows the last promised track.
    """

    head: bytes
    format: int
    division: int
    parts: tuple[Track | bytes, ...]
    tail: bytes

    @property
    def tracks(self) -> tuple[Track, ...]:
        """The tracks in file order."""
        return tuple(part for part in self.parts if isinstance(part, Track))

    def to_bytes(self) -> bytes:
        """The whole file."""
        pieces = [self.head]
        for part in self.parts:
            if isinstance(part, Track):
                pieces += [b"MTrk", len(part.data).to_bytes(4, "big"), part.data]
            else:
                pieces.append(part)
        return b"".join([*pieces, self.tail])

    def retimed(self, ticks: Sequence[Ints]) -> "Smf":
        """Return the same file with the events of each track at other times.

        Parameters
        ----------
        ticks : sequence of int64 arrays
            For each track, the new time of each event; never negative.
        """
        times = iter(ticks)
        parts = tuple(
            part.retimed(next(times)) if isinstance(part, Track) else part for part in self.parts
        )
        return replace(self, parts=parts)

    def finer(self, division: int) -> "Smf":
        """Return the same music with a finer division.

        Parameters
        ----------
        division : int
            Ticks per quarter note: a whole multiple of the file's, at most 32767.

        Raises
        ------
        MidiFileError
            If it is no such multiple.
        """
        factor, rest = divmod(division, self.division)
        if rest or factor < 1 or division > _LARGEST_DIVISION:
            raise MidiFileError(
                f"resolution {division} is not a whole multiple of the file's {self.division} "
                f"ticks per quarter up to {_LARGEST_DIVISION}; try {2 * self.division}"
                if 2 * self.division <= _LARGEST_DIVISION
                else f"the file's resolution of {self.division} ticks per quarter can't be refined"
            )
        if factor == 1:
            return self
        finer = self.retimed([track.tick * factor for track in self.tracks])
        head = self.head[:12] + division.to_bytes(2, "big") + self.head[14:]
        return replace(finer, head=head, division=division)


def parse_file(data: bytes) -> Smf:
    """Take a file apart.

    Raises
    ------
    MidiFileError
        If it is damaged or of a kind that is not read; the message says where.
    """
    head, file_format, promised, division = _header(data)
    parts: list[Track | bytes] = []
    found, at = 0, len(head)
    while found < promised:
        tag, body = _chunk(data, at, found, promised)
        if tag == b"MTrk":
            found += 1
            try:
                parts.append(_parse_short(body) if len(body) <= _SHORT else parse(body))
            except MidiFileError as error:
                raise MidiFileError(f"track {found} (from byte {at + 8}), {error}") from None
        else:
            parts.append(data[at : at + 8 + len(body)])
        at += 8 + len(body)
    return Smf(head, file_format, division, tuple(parts), data[at:])


@lru_cache(maxsize=64)
def _parse_short(body: bytes) -> Track:
    """A track with hardly anything in it, of which a file may have thousands alike."""
    return parse(body)


def _header(data: bytes) -> tuple[bytes, int, int, int]:
    """Whole header chunk, format, number of tracks, division."""
    if data[:4] != b"MThd":
        raise MidiFileError("this is not a Standard MIDI File (it does not begin with MThd)")
    length = int.from_bytes(data[4:8], "big")
    if len(data) < 14 or length < 6 or len(data) < 8 + length:
        raise MidiFileError("the header is cut short; the file is damaged")
    file_format, tracks, division = (int.from_bytes(data[at : at + 2], "big") for at in (8, 10, 12))
    if file_format == 2:
        raise MidiFileError("type 2 files (independent patterns) are not read; save it as type 1")
    if file_format > 2:
        raise MidiFileError(f"the header names type {file_format}; only types 0 and 1 are read")
    if file_format == 0 and tracks != 1:
        raise MidiFileError(f"a type 0 file has one track, this one promises {tracks}")
    if division & 0x8000:
        raise MidiFileError(
            "the file counts SMPTE frames instead of beats; save it with ticks per quarter note"
        )
    if division == 0:
        raise MidiFileError("the header says 0 ticks per quarter note; the file is damaged")
    return data[: 8 + length], file_format, tracks, division


def _chunk(data: bytes, at: int, found: int, promised: int) -> tuple[bytes, bytes]:
    """Tag and body of the chunk at offset `at`."""
    if at + 8 > len(data):
        raise MidiFileError(
            f"the header promises {promised} tracks, the file ends after {found}; it is cut short"
        )
    tag = data[at : at + 4]
    length = int.from_bytes(data[at + 4 : at + 8], "big")
    if not all(0x20 <= byte < 0x7F for byte in tag):
        raise MidiFileError(f"byte {at}: a chunk should begin here; the file is damaged")
    if at + 8 + length > len(data):
        raise MidiFileError(
            f"byte {at}: chunk {tag.decode('ascii')} says {length} bytes, "
            f"the file has {len(data) - at - 8} left; it is cut short"
        )
    return tag, data[at + 8 : at + 8 + length]
