"""Channels: 1 to 16 as people count them, 0 to 15 as they stand in the bytes."""

import operator
from collections.abc import Sequence
from typing import SupportsIndex

import numpy as np

from evenhand.errors import MidiFileError, SettingError
from evenhand.take.track import Track, joined

#: Channel 10 as it stands in the bytes (General MIDI Level 1: the percussion channel).
DRUM_CHANNEL = 9

#: Channels of MIDI.
CHANNELS = 16


def find_drums(tracks: Sequence[Track], channel: int | None = None) -> int:
    """Find the channel that holds the drums (see `Take.drum_channel`).

    Parameters
    ----------
    tracks : sequence of Track
    channel : int, optional
        1 to 16, if it is known.

    Returns
    -------
    int
        0 to 15.

    Raises
    ------
    MidiFileError
        If there are no notes, or on several channels and none of them is 10.
    SettingError
        If `channel` is not 1 to 16.
    """
    if channel is not None:
        channel = _checked(channel)
    status, data2 = joined(tracks, "status"), joined(tracks, "data2")
    note_on = (status & 0xF0 == 0x90) & (data2 > 0)
    counts = np.bincount(status[note_on] & 0x0F, minlength=CHANNELS)
    used = np.flatnonzero(counts)
    listed = ", ".join(f"{one + 1} ({counts[one]} notes)" for one in used)
    if not len(used):
        raise MidiFileError("there are no notes in it, so no drums either")
    if channel is not None:
        if not counts[channel - 1]:
            raise MidiFileError(f"no notes on channel {channel}; there are some on {listed}")
        return channel - 1
    if counts[DRUM_CHANNEL]:
        return DRUM_CHANNEL
    if len(used) == 1:
        return int(used[0])
    raise MidiFileError(
        f"no drums on channel 10, but notes on channels {listed}; say which one with --channel"
    )


def _checked(channel: SupportsIndex) -> int:
    """The number of a channel, if it is one."""
    try:
        number = operator.index(channel)
    except TypeError:
        number = 0
    if isinstance(channel, bool) or not 1 <= number <= CHANNELS:
        raise SettingError(f"channel: {channel!r} is not a whole number from 1 to {CHANNELS}")
    return number
