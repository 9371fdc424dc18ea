"""Rows of plain events: a delta time, a status byte or none, and two data bytes.

That is what most of a track is. How long such an event would be is found for all bytes at once, and
how far eight of them would reach, so that a row of them is gone over in an eighth of its steps.
"""

from array import array

import numpy as np

from evenhand.columns import Bytes, Ints

# Bytes that are looked at in one go, and more than eight plain events take.
_BLOCK, _FAR = 1 << 16, 64
# No data and no channel status: no plain event runs on into it.
_NO_END = 0xFF


def plain_sizes(data: bytes, longest: int) -> Bytes:
    """How long a plain event would be at each byte; 0 where none can begin, or the data end.

    Parameters
    ----------
    data : bytes
        The body of a track.
    longest : int
        Bytes of a delta time, at the most.
    """
    buffer = np.frombuffer(data + bytes([_NO_END] * (longest + 4)), np.uint8)
    low = buffer < 0x80
    two = (low[:-1] & low[1:]).view(np.uint8)
    upper = buffer >> 4
    spelled = (upper >= 0x8) & (upper <= 0xE) & (upper != 0xC) & (upper != 0xD)
    # Two data bytes behind a status; or else two where it would stand, of which the first is low.
    behind = two[1:] * (spelled[:-2] * np.uint8(3)) + two[:-1] * np.uint8(2)
    # A delta time ends with its only byte below 0x80; one that would be too long is not plain.
    size = (behind[1:] + (behind[1:] > 0)) * low[: len(behind) - 1]
    longer = size
    for _ in range(longest - 1):
        longer = longer[1:]
        longer = (longer + (longer > 0)) * ~low[: len(longer)]
        size = size[: len(longer)] + longer
    return np.append(size[: len(data)], np.uint8(0))


def hop_sizes(plain: Bytes) -> bytes:
    """How long eight plain events would be at each byte, or fewer if no more follow.

    Parameters
    ----------
    plain : uint8 array
        How long one would be.
    """
    blocks = []
    for first in range(0, len(plain), _BLOCK):
        # With room for what is behind: eight events from the last byte of the block on.
        size = np.append(plain[first : first + _BLOCK + _FAR], np.zeros(_FAR, np.uint8))
        behind = np.arange(len(size))
        behind += size
        for _ in range(3):
            more = size[behind]
            size = size + more
            behind += more
        blocks.append(size[: min(_BLOCK, len(plain) - first)].tobytes())
    return b"".join(blocks)


def hop_on(hop: bytes, at: int, hops: "array[int]") -> int:
    """Note where the hops begin over the plain events that follow; give where those end.

    Parameters
    ----------
    hop : bytes
        How far each byte's hop goes.
    at : int
        The first of them.
    hops : array of int
        Grows.
    """
    while step := hop[at]:
        hops.append(at)
        at += step
    return at


def all_starts(start: "array[int]", hops: "array[int]", plain: Bytes) -> Ints:
    """Where all events begin: those found one by one, and those in hops of up to eight.

    Parameters
    ----------
    start, hops : arrays of int
        Where single events and hops begin.
    plain : uint8 array
        How long a plain event would be at each byte.
    """
    eight = [np.frombuffer(hops, np.int64)]
    for _ in range(7):
        eight.append(eight[-1] + plain[eight[-1]])
    row = np.stack(eight, axis=1).ravel()
    # A hop that ends early stands still behind its last event.
    row = row[plain[row] > 0]
    # Two rows in order: what a stable sort goes by.
    return np.sort(np.concatenate([row, np.array(start, np.int64)]), kind="stable")
