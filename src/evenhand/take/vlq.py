"""Variable-length quantities, as in Standard MIDI Files 1.0 (RP-001), "Conventions"."""

import numpy as np

from evenhand.columns import Bytes, Ints, indices
from evenhand.errors import MidiFileError

#: The largest quantity a Standard MIDI File may hold (four bytes).
LARGEST = 0x0FFFFFFF


def read(data: bytes, at: int) -> tuple[int, int]:
    """Read one quantity.

    Parameters
    ----------
    data : bytes
    at : int
        Offset of its first byte.

    Returns
    -------
    value : int
        0 to 0x0FFFFFFF.
    after : int
        Offset of the byte behind it.

    Raises
    ------
    MidiFileError
        If it is longer than four bytes.
    IndexError
        If `data` ends inside it.
    """
    value = 0
    for after in range(at + 1, at + 5):
        byte = data[after - 1]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, after
    raise MidiFileError("a variable-length quantity is longer than four bytes")


def lengths(values: Ints) -> Ints:
    """Bytes that each quantity takes at the least (1 to 4)."""
    return np.searchsorted([0x80, 0x4000, 0x200000], values, side="right") + 1


def decode(buffer: Bytes, start: Ints, length: Ints) -> Ints:
    """Read many quantities at once: `length` bytes (1 to 4) at each `start`."""
    values = (buffer[start] & 0x7F).astype(np.int64)
    for place in range(1, 4):
        inside = indices(length > place)
        if not len(inside):
            break
        values[inside] = values[inside] << 7 | buffer[start[inside] + place] & 0x7F
    return values


def encode_into(out: Bytes, at: Ints, values: Ints, length: Ints) -> None:
    """Write each quantity into `out` at offset `at`, padded with zeros to `length` bytes."""
    last = at + length - 1
    out[last] = values & 0x7F
    for place in range(1, 4):
        inside = indices(length > place)
        if not len(inside):
            break
        out[last[inside] - place] = values[inside] >> 7 * place & 0x7F | 0x80


def encode(value: int) -> bytes:
    """Write one quantity in its shortest form.

    Examples
    --------
    >>> encode(0x2000).hex()
    'c000'
    """
    values = np.array([value])
    length = lengths(values)
    out = np.zeros(int(length[0]), np.uint8)
    encode_into(out, np.zeros(1, np.int64), values, length)
    return out.tobytes()
