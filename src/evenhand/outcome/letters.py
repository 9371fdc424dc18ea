"""Columns of text as bytes, all rows at once: what Python's own formatting is too slow for.

A column is a table of bytes, one row per entry; what is 0 in it is no letter and falls out when
the rows are joined.
"""

import numpy as np
import numpy.typing as npt

from evenhand.columns import Bytes, Floats, Ints, Phrases, Words

_ZERO, _POINT, _MINUS = b"0.-"


def _three_digits() -> npt.NDArray[np.uint32]:
    """All numbers of three digits as four letters each, in one number: the first is left for signs.

    In full behind a point; in full; without zeros before them; and without any letter for 0.
    """
    full = np.arange(1000)[:, None] // (1000, 100, 10, 1) % 10
    cut = np.where(np.logical_or.accumulate(full > 0, axis=1), full + _ZERO, 0)
    full += _ZERO
    full[:, 0] = 0
    last, places = cut.copy(), full.copy()
    last[0, -1], places[:, 0] = _ZERO, _POINT
    return np.concatenate([places, full, last, cut]).astype(np.uint8).view(np.uint32).ravel()


#: Three digits at a time, and where in the table they begin for each place in a number.
_THREE = _three_digits()
_PLACES, _INSIDE, _LAST, _FIRST = 0, 1000, 2000, 3000


def words(values: Words | Phrases) -> Bytes:
    """Words of plain ASCII."""
    if values.dtype == np.object_:
        return _phrases(values)
    # NumPy keeps four bytes for each letter.
    longest = values.dtype.itemsize // 4
    letters = np.ascontiguousarray(values).view(np.uint32)
    return letters.reshape(len(values), longest).astype(np.uint8)


def _phrases(values: Words | Phrases) -> Bytes:
    """Of references to a few words: the letters of each word once, and which is where."""
    said = values.tolist()
    place = {word: at for at, word in enumerate(dict.fromkeys(said))}
    which = np.fromiter(map(place.__getitem__, said), np.int64, len(said))
    return words(np.array([*place, ""]))[which]


def whole(values: Ints) -> Bytes:
    """Whole numbers; of several columns in one array, several tables."""
    return _number(values, 0)


def thousandths(values: Floats) -> Bytes:
    """Numbers with three places; NaN is left empty, and nothing rounds to a minus zero.

    Of several columns in one array, several tables.
    """
    given = ~np.isnan(values)
    letters = _number(np.rint(np.where(given, values, 0.0) * 1000).astype(np.int64), 3)
    if not given.all():
        letters *= given[..., None]
    return letters


def up_to_thousandths(values: Floats) -> Bytes:
    """Numbers with as many places as they need, three at the most; NaN is left empty."""
    letters = thousandths(values)
    # From the last place to the point: what has only zeros behind it falls out.
    idle = np.ones(len(values), np.bool_)
    for place in (-1, -2, -3):
        idle &= letters[:, place] == _ZERO
        letters[idle, place] = 0
    letters[idle, -4] = 0
    return letters


def _number(values: Ints, places: int) -> Bytes:
    """Whole numbers, the last three digits behind a point or none."""
    left = np.abs(values)
    groups = -(-len(str(int(left.max(initial=0)) // 10**places)) // 3)
    letters = np.empty((*values.shape, groups + bool(places)), np.uint32)
    first = _LAST
    for group in range(letters.shape[-1])[::-1]:
        rest, left = left, left // 1000
        rest = rest - 1000 * left
        if group == groups:
            letters[..., group] = _THREE[rest]
            continue
        letters[..., group] = _THREE[rest + np.where(left > 0, _INSIDE, first)]
        first = _FIRST
    found: Bytes = letters.view(np.uint8)
    below = values < 0
    if below.any():
        found[..., 0] += below * np.uint8(_MINUS)
    return found


def join(columns: list[Bytes]) -> bytes:
    """The rows of some columns, one line each, with commas between."""
    rows = len(columns[0])
    comma, end = (np.full((rows, 1), ord(letter), np.uint8) for letter in ",\n")
    parts = [part for column in columns for part in (comma, column)][1:]
    return np.concatenate([*parts, end], axis=1).tobytes().translate(None, b"\0")
