"""All events on a channel exchanged for others; everything else keeps its bytes and times."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

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
    """Tick and bytes, status spelled out, of all events on a channel, track by track."""
    found = []
    for track in take.smf.tracks:
        for index in np.flatnonzero(track.on_channel(channel)).tolist():
            body, stop = int(track.body[index]), int(track.start[index + 1])
            data = track.data[body:stop]
            if data[0] < 0x80:
                data = bytes([track.status[index]]) + data
            found.append((int(track.tick[index]), data))
    return found
