"""The array types that data travels in between the rooms."""

from dataclasses import Field, fields
from typing import Any, ClassVar, TypeAlias, TypeVar

import numpy as np
import numpy.typing as npt

Floats: TypeAlias = npt.NDArray[np.float64]
Ints: TypeAlias = npt.NDArray[np.int64]
Bytes: TypeAlias = npt.NDArray[np.uint8]
Complexes: TypeAlias = npt.NDArray[np.complex128]
Bools: TypeAlias = npt.NDArray[np.bool_]
Words: TypeAlias = npt.NDArray[np.str_]
#: Phrases from a short list: each entry is a reference of eight bytes, not room for the longest.
Phrases: TypeAlias = npt.NDArray[np.object_]

#: Slack in comparisons of times, ms: far below a tick, far above the noise of floating point,
#: so that "at most 20 ms" holds for a gap that is 20 ms on paper.
SLACK_MS = 1e-6

#: A column of any of these.
Column: TypeAlias = npt.NDArray[Any]

_Entry = TypeVar("_Entry", bound=np.generic)
_Copy = TypeVar("_Copy")

#: Numbers are looked up in a table with so much room at the most, and so much for each of them.
_ROOM, _ROOM_EACH = 1 << 18, 8

# More values than this are parted at their middle rather than sorted to find it.
_SORTED = 200

#: Letters of a value that is shown, and entries of a list.
_SHOWN, _FEW = 60, 3


class Brief:
    """What is shown in one line, however long its columns are.

    For frozen dataclasses: columns are shown by their type and length, other parts that are brief
    by their name, and everything else cut to a few words.
    """

    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        # Into the class itself: a dataclass makes a `__repr__` where the class has none.
        if "__repr__" not in cls.__dict__:
            type.__setattr__(cls, "__repr__", Brief.__repr__)

    def __repr__(self) -> str:
        shown = (f"{one.name}={_brief(getattr(self, one.name))}" for one in fields(self))
        return f"{type(self).__name__}({', '.join(shown)})"


def _brief(value: object) -> str:
    if isinstance(value, np.ndarray):
        return f"{value.dtype}{list(value.shape)}"
    if isinstance(value, Brief):
        return f"{type(value).__name__}(…)"
    if isinstance(value, bytes):
        return f"{len(value)} bytes"
    if isinstance(value, tuple | list | dict) and len(value) > _FEW:
        return f"{type(value).__name__} of {len(value)}"
    if isinstance(value, tuple):
        return f"({', '.join(map(_brief, value))}{',' * (len(value) == 1)})"
    shown = repr(value)
    return shown if len(shown) <= _SHOWN else f"{shown[: _SHOWN - 1]}…"


def pick(column: npt.NDArray[_Entry], index: Ints, missing: Any) -> npt.NDArray[_Entry]:
    """The entry for each index; `missing` where the index is -1."""
    picked: npt.NDArray[_Entry] = np.append(column, np.asarray(missing))[index]
    return picked


def clipped(values: npt.NDArray[_Entry], low: Any, high: Any) -> npt.NDArray[_Entry]:
    """Values between two bounds: `np.clip` in two thirds of its time.

    Parameters
    ----------
    values : float64 or int64 array
    low, high : scalar or array
        Of the same type.
    """
    inside: npt.NDArray[_Entry] = np.minimum(np.maximum(values, low), high)
    return inside


def indices(which: Column) -> Ints:
    """Where a row is true, or not 0: `np.flatnonzero` in a third of its time.

    Parameters
    ----------
    which : array, shape (n,)
    """
    return which.nonzero()[0]


def differences(values: npt.NDArray[_Entry], before: Any = None) -> npt.NDArray[_Entry]:
    """From each value to the next: `np.diff` in a fifth of its time.

    Parameters
    ----------
    values : float64 or int64 array, shape (n,)
    before : scalar, optional
        What comes before the first; without it there is one difference less.
    """
    found: npt.NDArray[_Entry]
    if before is None:
        found = np.subtract(values[1:], values[:-1])
    else:
        found = np.empty_like(values)
        np.subtract(values[1:], values[:-1], out=found[1:])
        np.subtract(values[:1], before, out=found[:1])
    return found


def among(words: Words | Phrases, some: tuple[str, ...]) -> Bools:
    """Which words are among some few: `np.isin` in half of its time.

    Parameters
    ----------
    words : str or object array, shape (n,)
    some : tuple of str
    """
    found = np.zeros(words.shape, np.bool_)
    for one in some:
        found |= words == one
    return found


def picked(table: npt.NDArray[_Entry], which: Ints) -> npt.NDArray[_Entry]:
    """One entry of each row: `table[np.arange(n), which]` in half of its time.

    Parameters
    ----------
    table : array, shape (n, m)
    which : int64 array, shape (n,)
        From 0 to m - 1.
    """
    found: npt.NDArray[_Entry] = table.ravel()[np.arange(0, table.size, table.shape[1]) + which]
    return found


def greatest(table: Floats) -> Floats:
    """The greatest of each row: `table.max(axis=1)` in a tenth of its time, where rows are short.

    Parameters
    ----------
    table : float64 array, shape (n, m)
    """
    return np.asarray(np.ascontiguousarray(table.T).max(axis=0))


def runs(which: Bools) -> Ints:
    """Where rows are true in a row: the first of each run, and what follows its last.

    Parameters
    ----------
    which : bool array, shape (n,)

    Returns
    -------
    int64 array, shape (runs, 2)
    """
    around = np.zeros(len(which) + 2, np.bool_)
    around[1:-1] = which
    return indices(around[1:] != around[:-1]).reshape(-1, 2)


def spread_over(values: Floats, place: Floats) -> Floats:
    """One value for each place, if there was one for all of them (see `latest`)."""
    if np.shape(values) == place.shape:
        return values
    # `np.full` in half of its time.
    spread = np.empty(place.shape)
    spread[...] = values
    return spread


def known_of(old: object, changed: _Copy, *names: str) -> _Copy:
    """A changed copy of a frozen dataclass with what is known of the old one already.

    Parameters
    ----------
    old, changed : dataclasses of one type
    names : str
        Cached properties that the change leaves as they are.
    """
    for name in names:
        if name in vars(old):
            vars(changed)[name] = vars(old)[name]
    return changed


def numbered(values: Ints) -> tuple[Ints, Ints]:
    """Number what differs, in order: `np.unique` with its inverse, in a fraction of its time.

    Parameters
    ----------
    values : int64 array

    Returns
    -------
    values : int64 array, shape (k,)
        What there is, in order.
    number : int64 array
        Which of those each is, in the shape of the given values.
    """
    if not values.size:
        return values.ravel(), values
    low = int(np.minimum.reduce(values, axis=None))
    room = int(np.maximum.reduce(values, axis=None)) - low + 1
    if room > _ROOM + _ROOM_EACH * values.size:
        found, number = ranked(values.ravel())
        return found, number.reshape(values.shape)
    from_low = values - low
    there = np.zeros(room, np.bool_)
    there[from_low] = True
    found = indices(there)
    if len(found) == room:
        return found + low, from_low
    number = np.empty(room, np.int64)
    number[found] = np.arange(len(found))
    return found + low, number[from_low]


def ranked(values: npt.NDArray[_Entry]) -> tuple[npt.NDArray[_Entry], Ints]:
    """Number what differs, in order: `np.unique` with its inverse, quicker where order is near.

    Parameters
    ----------
    values : float64 or int64 array, shape (n,)
        None of them NaN.

    Returns
    -------
    values : array, shape (k,)
        What there is, in order.
    number : int64 array, shape (n,)
        Which of those each is.
    """
    # A stable sort goes by the runs that are there: what is struck comes nearly in order.
    order = values.argsort(kind="stable")
    values = values[order]
    first = np.ones(len(values), np.bool_)
    np.not_equal(values[1:], values[:-1], out=first[1:])
    number = np.empty(len(values), np.int64)
    number[order] = first.cumsum() - 1
    return values[first], number


def median(values: Floats | Ints) -> float:
    """The middle value, or the mean of the two in the middle.

    It is `np.median` in a fifth of its time, which counts where every fill is asked for one.

    Parameters
    ----------
    values : float64 or int64 array, shape (n,)
        At least one, and none of them NaN.
    """
    in_order = values.copy()
    half = len(in_order) // 2
    if len(in_order) > _SORTED:
        in_order.partition((half - 1, half))
    else:
        in_order.sort()
    if len(in_order) % 2:
        return float(in_order[half])
    return float((in_order[half - 1] + in_order[half]) / 2)


def percentile(values: Floats | Ints, percent: float) -> float:
    """What so many percent of some values lie below: `np.percentile` in a twentieth of its time.

    Parameters
    ----------
    values : float64 or int64 array, shape (n,)
        At least one, and none of them NaN.
    percent : float
        From 0 to 100.
    """
    in_order = values.astype(np.float64)
    in_order.sort()
    place = percent / 100 * (len(in_order) - 1)
    below = int(place)
    low, high = float(in_order[below]), float(in_order[min(below + 1, len(in_order) - 1)])
    share = place - below
    # From the nearer end, as NumPy does.
    return low + (high - low) * share if share < 0.5 else high - (high - low) * (1 - share)


def latest(begins: Floats | Ints, place: Floats) -> Ints:
    """Which of some stretches each place lies in: the latest to begin there, or the first.

    Parameters
    ----------
    begins : float64 or int64 array, shape (k,)
        In order.
    place : float64 array

    Returns
    -------
    int64 array
        In the shape of `place`; one 0 for all if there is only one stretch, as in most takes.
    """
    if len(begins) == 1:
        return np.zeros((), np.int64)
    return np.asarray(np.maximum(np.searchsorted(begins, place, side="right") - 1, 0))
