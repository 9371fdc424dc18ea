"""Columns of text as letters, all rows at once: what Python's own formatting is too slow for.

A column is a table of numbers that are four letters each, shape (k, rows): the first four of all
rows, then the next. Each begins with the comma before it; what is 0 is no letter and falls out when
the rows are joined.
"""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from evenhand.columns import Bools, Floats, Ints, Phrases, Words

Letters: TypeAlias = npt.NDArray[np.uint32]

_ZERO, _POINT = b"0."

#: Four letters as one number.
_COMMA, _LINE, _WITH_MINUS = np.frombuffer(b",\0\0\0\n\0\0\0,\0\0-", np.uint32)


def _three_digits() -> Letters:
    """All numbers of three digits as four letters each, in one number; the first is for commas.

    Behind a point in full, and without zeros at the end; in full; without zeros before them; and
    without any letter for 0.
    """
    full = np.arange(1000)[:, None] // (1000, 100, 10, 1) % 10
    cut = np.where(np.logical_or.accumulate(full > 0, axis=1), full + _ZERO, 0)
    full += _ZERO
    full[:, 0] = 0
    last, places = cut.copy(), full.copy()
    last[0, -1], places[:, 0] = _ZERO, _POINT
    ends = np.logical_or.accumulate(full[:, :0:-1] > _ZERO, axis=1)[:, [2, 2, 1, 0]]
    tables = [places, places * ends, full, last, cut]
    return np.concatenate(tables).astype(np.uint8).view(np.uint32).ravel()


#: Three digits at a time, and where in the table they begin for each place in a number.
_THREE = _three_digits()
_PLACES, _SHORT, _INSIDE, _LAST, _FIRST = range(0, 5000, 1000)


def words(values: Words | Phrases) -> Letters:
    """Words of plain ASCII."""
    if values.dtype == np.object_:
        return _phrases(values)
    longest = values.dtype.itemsize // 4
    letters = np.zeros((len(values), longest // 4 + 1), np.uint32)
    row = letters.view(np.uint8)
    row[:, :1] = ord(",")
    # NumPy keeps four bytes for each letter.
    row[:, 1 : longest + 1] = np.ascontiguousarray(values)[:, None].view(np.uint32)
    return letters.T


def _phrases(values: Words | Phrases) -> Letters:
    """Of references to a few words: the letters of each word once, and which is where."""
    said = values.tolist()
    place = {word: at for at, word in enumerate(dict.fromkeys(said))}
    which = np.fromiter(map(place.__getitem__, said), np.int64, len(said))
    return words(np.array([*place, ""])).take(which, axis=1)


def whole(values: Ints, given: Bools | None = None) -> Letters:
    """Whole numbers; of several columns in one array, several tables.

    What is not given is left empty.
    """
    return _number(values, None, given)


def thousandths(values: Floats, places: int = _PLACES) -> Letters:
    """Numbers with three places; NaN is left empty, and nothing rounds to a minus zero.

    Of several columns in one array, several tables.
    """
    given = ~np.isnan(values)
    if given.all():
        return _number(np.rint(values * 1000).astype(np.int64), places)
    return _number(np.rint(np.where(given, values, 0.0) * 1000).astype(np.int64), places, given)


def up_to_thousandths(values: Floats) -> Letters:
    """Numbers with as many places as they need, three at the most; NaN is left empty."""
    return thousandths(values, _SHORT)


def _number(values: Ints, places: int | None, given: Bools | None = None) -> Letters:
    """Whole numbers, the last three digits behind a point (and by which table) or none."""
    left, below = np.abs(values), values < 0
    minus, point = int(below.any()), places is not None
    groups = -(-len(str(int(left.max(initial=0)) // (1000 if point else 1))) // 3)
    letters = np.empty((*values.shape[:-1], minus + groups + point, values.shape[-1]), np.uint32)
    first = _LAST
    for group in range(minus, letters.shape[-2])[::-1]:
        rest, left = left, left // 1000
        rest = rest - 1000 * left
        if places is not None and group == minus + groups:
            letters[..., group, :] = _THREE[rest + places]
            continue
        letters[..., group, :] = _THREE[rest + np.where(left > 0, _INSIDE, first)]
        first = _FIRST
    if given is not None:
        letters *= given[..., None, :]
    if minus:
        letters[..., 0, :] = np.where(below, _WITH_MINUS, _COMMA)
    else:
        letters[..., 0, :] += _COMMA
    return letters


def join(columns: list[Letters]) -> bytes:
    """The rows of some columns, one line each, with commas between."""
    letters = np.concatenate(columns)
    # Lines are parted where the first column has its comma.
    letters[0] ^= _COMMA ^ _LINE
    lines = letters.T.tobytes().translate(None, b"\0")
    return lines[1:] + b"\n" if lines else b""
