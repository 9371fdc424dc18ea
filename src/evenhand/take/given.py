"""What is given for a take: a path, bytes or an open file; the rest is refused in words."""

from os import PathLike
from pathlib import Path
from typing import IO

from evenhand.errors import ArgumentError
from evenhand.take.reading import read_bytes, read_open
from evenhand.take.take import Take


def read_take(source: str | Path | bytes | IO[bytes], name: str | None = None) -> Take:
    """Read a take from a Standard MIDI File.

    Parameters
    ----------
    source : str, Path, bytes or binary file
        The path of a file, its bytes, or the file itself, open for reading bytes; that is read to
        its end and stays open.
    name : str, optional
        What to call the take in messages; if not given, its path, or `take`.

    Returns
    -------
    Take

    Raises
    ------
    DiskError
        If the file can't be read.
    MidiFileError
        If it is not a Standard MIDI File of type 0 or 1, or damaged.
    ArgumentError
        If `source` is something else, or a file that is open as text.

    Examples
    --------
    >>> take = read_take("kettle-weather.mid")
    >>> take
    Take('kettle-weather.mid', 2 tracks, division 480)
    >>> with open("kettle-weather.mid", "rb") as file:
    ...     read_take(file).to_bytes() == take.to_bytes()
    True
    >>> read_take(take.to_bytes(), "again")
    Take('again', 2 tracks, division 480)
    """
    if isinstance(source, str | Path):
        return Take.from_bytes(read_bytes(Path(source)), name or str(source))
    if isinstance(source, bytes | bytearray | memoryview):
        return Take.from_bytes(bytes(source), name or "take")
    if isinstance(source, PathLike):
        return read_take(Path(source), name)
    if callable(getattr(source, "read", None)):
        called = getattr(source, "name", None)
        called = name or (called if isinstance(called, str) else "take")
        return Take.from_bytes(read_open(source, called), called)
    raise ArgumentError(
        f"read_take takes a path, bytes or an open file, not {type(source).__name__}"
    )


def need_take(take: object, function: str) -> None:
    """Refuse what is no take, and say what to give.

    Parameters
    ----------
    take : object
    function : str
        Whose argument it is.

    Raises
    ------
    ArgumentError
        If it is anything but a `Take`.
    """
    if isinstance(take, Take):
        return
    if isinstance(take, str | PathLike | bytes):
        shown = repr(take) if not isinstance(take, bytes) else f"{len(take)} bytes"
        raise ArgumentError(
            f"{function} takes a take, not {shown}; read it first: {function}(read_take(…))"
        )
    raise ArgumentError(f"{function} takes a take from read_take, not {type(take).__name__}")
