"""Hits as columns: the shape in which a performance travels between the rooms."""

from dataclasses import dataclass, fields

from evenhand.columns import Brief, Floats, Ints, Words


@dataclass(frozen=True, eq=False)
class Hits(Brief):
    """All hits of a take in file order, n of them.

    Attributes
    ----------
    tick : int64 array
    ms : float64 array
        Milliseconds from the start of the file.
    note, velocity : int64 arrays
        0 to 127; a hit's velocity is above zero.
    channel : int64 array
        0 to 15 (channel 10 is 9), as in the bytes.
    track : int64 array
        Index of the track, from 0.
    event : int64 array
        Index of the event in its track, from 0.
    piece, role : str arrays
        What was struck and what the hit does; empty until the kit room has named them.
    """

    tick: Ints
    ms: Floats
    note: Ints
    velocity: Ints
    channel: Ints
    track: Ints
    event: Ints
    piece: Words
    role: Words

    def __len__(self) -> int:
        return len(self.tick)

    def only(self, which: Ints) -> "Hits":
        """Some of the hits, by index."""
        return Hits(*(getattr(self, field.name)[which] for field in fields(self)))
