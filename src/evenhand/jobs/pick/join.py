"""One take joined from several: each hit once, with what belongs to it, from where it was chosen.

Takes are joined at bar lines. Which side of a seam a hit lies on is decided for its stroke, not for
itself: a downbeat that one take plays early and the other late is still one downbeat. A hit takes
its release, its pressure and its choke with it, wherever they lie.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from evenhand.columns import Bools, Ints
from evenhand.jobs.pick.one_ruler import Laid
from evenhand.take import Take, channel_events, exchange, owners

_NOTE_ON, _CONTROL = 0x90, 0xB0


@dataclass(frozen=True, eq=False)
class Joined:
    """The joined take and where each of its n hits came from, in time order.

    Attributes
    ----------
    take : Take
    source, hit : int64 arrays, shape (n,)
        The take and the hit in it, from 0.
    tick : int64 array, shape (n,)
        In the joined take.
    """

    take: Take
    source: Ints
    hit: Ints
    tick: Ints


@dataclass
class _Event:
    tick: int
    data: bytes
    #: The hit, of the same take, that it belongs to; -1 for none.
    hit: int
    #: What has to come first of all at its tick.
    first: bool = False
    source: int = 0


def join(
    takes: Sequence[Laid], chosen: Sequence[Bools], seams: Sequence[tuple[float, int]], name: str
) -> Joined:
    """Join takes.

    Parameters
    ----------
    takes : sequence of Laid
        The first gives everything that is no drum event.
    chosen : sequence of bool arrays
        For each take, which of its hits are taken.
    seams : sequence of (float, int)
        From which place on, quarters, the controllers are those of which take; the first is at
        minus infinity.
    name : str
        What to call the take.
    """
    division = takes[0].take.division
    kept: list[_Event] = []
    begins = np.array([place for place, _ in seams]) * division
    owner = np.array([take for _, take in seams])
    for number, one in enumerate(takes):
        events = _events(one, division)
        for event in events:
            event.source = number
            if event.hit >= 0:
                wanted = bool(chosen[number][event.hit])
            else:
                here = int(np.searchsorted(begins, event.tick, side="right")) - 1
                wanted = int(owner[here]) == number
            if wanted:
                kept.append(event)
        for begin, take in zip(begins[1:], owner[1:], strict=True):
            if take == number:
                kept += _as_they_stood(events, round(float(begin)), number)
    _clip(kept)
    kept.sort(key=lambda event: (event.tick, not event.first))
    channel = takes[0].channel
    written = [(event.tick, _on_channel(event.data, channel)) for event in kept]
    joined = exchange(takes[0].take, channel, written)
    hits = [event for event in kept if _is_hit(event)]
    return Joined(
        Take(name, joined.smf),
        np.array([event.source for event in hits], np.int64),
        np.array([event.hit for event in hits], np.int64),
        np.array([event.tick for event in hits], np.int64),
    )


def _is_hit(event: _Event) -> bool:
    return event.data[0] & 0xF0 == _NOTE_ON and event.data[2] > 0


def _on_channel(data: bytes, channel: int) -> bytes:
    return bytes([data[0] & 0xF0 | channel]) + data[1:]


def _events(one: Laid, division: int) -> list[_Event]:
    """The drum events of a take on the common ruler, each with the hit that it belongs to."""
    rows = channel_events(one.take, one.channel)
    scale, shift = division / one.take.division, one.shift * division
    hits = owners(rows).tolist()
    return [
        _Event(max(round(rows[index][0] * scale + shift), 0), rows[index][1], hits[index])
        for index in sorted(range(len(rows)), key=lambda index: rows[index][0])
    ]


def _as_they_stood(events: list[_Event], begin: int, source: int) -> list[_Event]:
    """The controllers of a take as they stood at a place: its latest of each kind before it."""
    stood: dict[tuple[int, ...], _Event] = {}
    for event in events:
        if event.tick >= begin:
            break
        upper = event.data[0] & 0xF0
        if event.hit < 0 and upper >= _CONTROL:
            kind = (upper, event.data[1]) if upper == _CONTROL else (upper,)
            stood[kind] = event
    return [_Event(begin, event.data, -1, True, source) for event in stood.values()]


def _clip(kept: list[_Event]) -> None:
    """A hit that is struck again by another take ends there: its release must not end that one."""
    hits = sorted((event for event in kept if _is_hit(event)), key=lambda event: event.tick)
    by_note: dict[int, list[_Event]] = {}
    for event in hits:
        by_note.setdefault(event.data[1], []).append(event)
    ends: dict[tuple[int, int], int] = {}
    for row in by_note.values():
        for one, after in pairwise(row):
            if one.source != after.source:
                ends[one.source, one.hit] = after.tick
    for event in kept:
        end = ends.get((event.source, event.hit)) if event.hit >= 0 else None
        if end is not None and not _is_hit(event) and event.tick >= end:
            event.tick, event.first = end, True
