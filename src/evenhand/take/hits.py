"""Hits as columns: the shape in which a performance travels between the rooms."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from evenhand.columns import Brief, Column, Floats, Ints, Words, indices, known_of, numbered
from evenhand.errors import MidiFileError
from evenhand.take.tempo import TempoMap
from evenhand.take.track import Track, joined

#: Most hits of a take. Common practice; it bounds time and memory (docs/reliability.md).
MOST_HITS = 60_000

#: Pieces that are shown in a line.
_FEW = 3


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

    def __repr__(self) -> str:
        named = [name for name in self.piece.tolist() if name]
        pieces = "".join(f", {n} {name}" for name, n in Counter(named).most_common(_FEW))
        more = ", …" if len(set(named)) > _FEW else ""
        return f"Hits({len(self)} hits{pieces}{more})"

    @cached_property
    def by_piece(self) -> tuple[Words, Ints]:
        """The pieces that are struck, in order, and which of them each hit is of."""
        # Words are slow to sort: one for each note, where a note is always of one piece.
        note, at = numbered(self.note)
        one = np.zeros(len(note), np.int64)
        one[at] = np.arange(len(self))
        names, number = np.unique(self.piece[one], return_inverse=True)
        if not (names[number[at]] == self.piece).all():
            return np.unique(self.piece, return_inverse=True)
        return names, number[at]

    def to_dict(self) -> dict[str, Column]:
        """Give all columns by name, counted as in the change log.

        Returns
        -------
        dict of str to array
            `hit`, `track` and `channel` from 1; `note`, `velocity`, `piece`, `role`; `tick`; `ms`
            from the start of the file.

        Examples
        --------
        >>> columns = read_take("kettle-weather.mid").hits().to_dict()
        >>> list(columns)
        ['hit', 'track', 'channel', 'note', 'velocity', 'piece', 'role', 'tick', 'ms']
        >>> int(columns["channel"][0])
        10
        """
        return {
            "hit": np.arange(1, len(self) + 1),
            "track": self.track + 1,
            "channel": self.channel + 1,
            "note": self.note,
            "velocity": self.velocity,
            "piece": self.piece,
            "role": self.role,
            "tick": self.tick,
            "ms": self.ms,
        }

    def only(self, which: Ints) -> "Hits":
        """Choose some of the hits.

        Parameters
        ----------
        which : int64 array
            Their indices, from 0.

        Returns
        -------
        Hits

        Examples
        --------
        >>> hits = read_take("kettle-weather.mid").hits()
        >>> set(hits.only(np.flatnonzero(hits.piece == "hat")).role.tolist())
        {'timekeeper'}
        """
        return Hits(*(getattr(self, field.name)[which] for field in fields(self)))


def in_roles(hits: Hits, role: Words) -> Hits:
    """The same hits in other roles.

    Parameters
    ----------
    hits : Hits
    role : str array, shape (n,)
    """
    return known_of(hits, replace(hits, role=role), "by_piece")


def pick_hits(tracks: Sequence[Track], tempo: TempoMap, drums: int) -> Hits:
    """Collect the hits of a channel in file order.

    Parameters
    ----------
    tracks : sequence of Track
    tempo : TempoMap
    drums : int
        The channel, 0 to 15.

    Returns
    -------
    Hits
        Pieces and roles without a name.

    Raises
    ------
    MidiFileError
        If there are more than `MOST_HITS`.
    """
    # All tracks at once: a file may have thousands, most of them without a note.
    sizes = np.array([len(track.tick) for track in tracks], np.int64)
    status, data2 = joined(tracks, "status"), joined(tracks, "data2")
    picked = indices((status == (0x90 | drums)) & (data2 > 0))
    if len(picked) > MOST_HITS:
        raise MidiFileError(
            f"there are {len(picked)} hits in it, and a take has {MOST_HITS} at the "
            "most (two and a half hours without a pause); cut it into parts"
        )
    of_track = np.repeat(np.arange(len(sizes)), sizes)[picked]
    begin = np.cumsum(sizes) - sizes
    tick = joined(tracks, "tick")[picked].astype(np.int64)
    nameless = np.full(len(tick), "", "<U12")
    return Hits(
        tick=tick,
        ms=tempo.to_ms(tick),
        note=joined(tracks, "data1")[picked].astype(np.int64),
        velocity=data2[picked].astype(np.int64),
        channel=np.full(len(tick), drums, np.int64),
        track=of_track,
        event=picked - begin[of_track],
        piece=nameless,
        role=nameless,
    )
