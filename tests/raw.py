"""Standard MIDI Files by hand, byte by byte."""


def chunk(tag: bytes, body: bytes, length: int | None = None) -> bytes:
    """A chunk; `length` makes it lie about its size."""
    return tag + (len(body) if length is None else length).to_bytes(4, "big") + body


def track(text: str, length: int | None = None) -> bytes:
    """A track of hexadecimal bytes."""
    return chunk(b"MTrk", bytes.fromhex(text), length)


def header(kind: int = 1, tracks: int = 1, division: int = 480, more: str = "") -> bytes:
    """The header chunk, longer than usual with `more`."""
    fields = b"".join(field.to_bytes(2, "big") for field in (kind, tracks, division))
    return chunk(b"MThd", fields + bytes.fromhex(more))


#: A kick on channel 10, 20 ticks (21 ms) late, and its release; a snare 970; the end.
KICK = "14 99 24 64 1E 24 00"
SNARE = "87 18 26 64 1E 26 00"
END = "00 FF 2F 00"
