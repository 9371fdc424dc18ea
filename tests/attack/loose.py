"""A MIDI file that has come loose: its parts in hand, to be put together wrongly."""

from dataclasses import dataclass, field


@dataclass
class Event:
    """One event: its delta time as bytes, and the bytes behind it."""

    delta: bytes
    body: bytes


@dataclass
class Chunk:
    """One chunk; `length` None tells the truth, `raw` is for a chunk that is no track."""

    tag: bytes
    events: list[Event] = field(default_factory=list)
    raw: bytes = b""
    length: int | None = None

    def to_bytes(self) -> bytes:
        """The chunk as it would be written."""
        body = b"".join(event.delta + event.body for event in self.events) + self.raw
        length = len(body) if self.length is None else self.length
        return self.tag + (length & 0xFFFFFFFF).to_bytes(4, "big") + body


@dataclass
class Loose:
    """A whole file."""

    kind: int
    tracks: int
    division: int
    chunks: list[Chunk]
    more: bytes = b""

    def to_bytes(self) -> bytes:
        """The file as it would be written."""
        fields = (self.kind, self.tracks, self.division)
        head = b"".join((value & 0xFFFF).to_bytes(2, "big") for value in fields)
        return b"".join([b"MThd\0\0\0\6", head, *(one.to_bytes() for one in self.chunks)])

    def events(self) -> list[tuple[Chunk, int]]:
        """Every event, as its chunk and its index there."""
        return [(one, index) for one in self.chunks for index in range(len(one.events))]


def quantity(value: int, length: int = 0) -> bytes:
    """A variable-length quantity, padded with zeros to `length` bytes."""
    letters = [value & 0x7F]
    while value := value >> 7:
        letters.insert(0, 0x80 | value & 0x7F)
    return bytes([0x80] * (length - len(letters)) + letters)


def value_of(letters: bytes) -> int:
    """What a quantity says."""
    value = 0
    for letter in letters:
        value = value << 7 | letter & 0x7F
    return value


def come_loose(data: bytes) -> Loose:
    """Take a sound file apart (by its own, simple reader: running status, meta, exclusive)."""
    kind, tracks, division = (int.from_bytes(data[at : at + 2], "big") for at in (8, 10, 12))
    at, chunks = 8 + int.from_bytes(data[4:8], "big"), []
    while at + 8 <= len(data):
        tag, length = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "big")
        body = data[at + 8 : at + 8 + length]
        chunks.append(Chunk(tag, _events(body)) if tag == b"MTrk" else Chunk(tag, raw=body))
        at += 8 + length
    return Loose(kind, tracks, division, chunks)


def _events(body: bytes) -> list[Event]:
    events, at, running = [], 0, 0
    while at < len(body):
        begin = at
        while body[at] & 0x80:
            at += 1
        at += 1
        delta, begin = body[begin:at], at
        status = body[at]
        if status in (0xF0, 0xF7, 0xFF):
            at += 2 if status == 0xFF else 1
            length_at = at
            while body[at] & 0x80:
                at += 1
            at += 1
            at += value_of(body[length_at:at])
        else:
            if status & 0x80:
                running, at = status, at + 1
            at += 1 if running & 0xE0 == 0xC0 else 2
        events.append(Event(delta, body[begin:at]))
    return events
