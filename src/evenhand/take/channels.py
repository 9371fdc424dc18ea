"""Channels: 1 to 16 as people count them, 0 to 15 as they stand in the bytes."""

import operator
from typing import SupportsIndex

from evenhand.errors import SettingError

#: Channel 10 as it stands in the bytes (General MIDI Level 1: the percussion channel).
DRUM_CHANNEL = 9

#: Channels of MIDI.
CHANNELS = 16


def checked_channel(channel: SupportsIndex) -> int:
    """Put the number of a channel in order.

    Raises
    ------
    SettingError
        If it is not a whole number from 1 to 16.
    """
    try:
        number = operator.index(channel)
    except TypeError:
        number = 0
    if isinstance(channel, bool) or not 1 <= number <= CHANNELS:
        raise SettingError(f"channel: {channel!r} is not a whole number from 1 to {CHANNELS}")
    return number
