"""All events on a channel exchanged for others; everything else keeps its bytes and times."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evenhand.columns import Ints
from evenhand.take.regrid import edited
from evenhand.take.take import Take
from evenhand.take.track import Track


def exchange(take: Take, channel: int, events: Sequence[tuple[int, bytes]]) -> Take:
    """Drop all events on a channel and put others in their track.

    Parameters
    ----------
    take : Take
    channel : int
        0 to 15.
    events : sequence of (int, bytes)
        Tick, and the event's bytes with its status, without delta time; those of one tick stand in
        the order given. They go into the track that has most notes on the channel.
    """
    tracks = take.smf.tracks
    notes = [int((track.on_channel(channel) & track.note_ons()).sum()) for track in tracks]
    home = tracks[int(np.argmax(notes))]
    in_order = sorted(events, key=lambda event: event[0])
    parts = tuple(
        edited(part, part.tick, ~part.on_channel(channel), in_order if part is home else ())
        if isinstance(part, Track)
        else part
        for part in take.smf.parts
    )
    return replace(take, smf=replace(take.smf, parts=parts))


def channel_events(take: Take, channel: int) -> list[tuple[int, bytes]]:
    """Tick and bytes, status spelled out, of all events on a channel, track by track.

    Parameters
    ----------
    take : Take
    channel : int
        From 0.
    """
    found = []
    for track in take.smf.tracks:
        for index in np.flatnonzero(track.on_channel(channel)).tolist():
            body, stop = int(track.body[index]), int(track.start[index + 1])
            data = track.data[body:stop]
            if data[0] < 0x80:
                data = bytes([track.status[index]]) + data
            found.append((int(track.tick[index]), data))
    return found


_NOTE_OFF, _NOTE_ON, _KEY_PRESSURE = 0x80, 0x90, 0xA0


def owners(rows: Sequence[tuple[int, bytes]]) -> Ints:
    """The hit that each event on a channel belongs to, by number in file order; -1 for none.

    A release belongs to the earliest hit of its note that still sounds, pressure on a key (a choke)
    to the latest.

    Parameters
    ----------
    rows : sequence of (int, bytes)
        As `channel_events` gives them.
    """
    struck = [data[0] & 0xF0 == _NOTE_ON and data[2] > 0 for _, data in rows]
    owner = np.where(struck, np.cumsum(struck) - 1, -1)
    sounding: dict[int, list[int]] = {}
    latest: dict[int, int] = {}
    # Hits are numbered in file order; what belongs to them is found in time order.
    for index in sorted(range(len(rows)), key=lambda one: rows[one][0]):
        data = rows[index][1]
        upper, note = data[0] & 0xF0, data[1]
        if owner[index] >= 0:
            sounding.setdefault(note, []).append(int(owner[index]))
            latest[note] = int(owner[index])
        elif upper in (_NOTE_OFF, _NOTE_ON):
            waiting = sounding.get(note)
            owner[index] = waiting.pop(0) if waiting else latest.get(note, -1)
        elif upper == _KEY_PRESSURE:
            owner[index] = latest.get(note, -1)
    return np.asarray(owner, np.int64)
