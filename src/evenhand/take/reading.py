"""Files that are read: plain ones, up to a limit, before memory is taken."""

import contextlib
import errno
import io
import os
import stat
import sys
import tomllib
from collections.abc import Iterator
from contextvars import ContextVar
from pathlib import Path
from typing import IO, Any

from evenhand.errors import ArgumentError, DiskError, SettingError

#: The largest file that is read if nothing else is said, MB.
LARGEST_MB = 256.0

_largest: ContextVar[float] = ContextVar("_largest", default=LARGEST_MB)

#: The largest file of settings, bytes.
_LARGEST_TOML = 500_000

#: How much is read at a time, bytes.
_MOUTHFUL = 1 << 20

#: Opening a pipe must not wait for somebody to write into it.
_HOW = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)


@contextlib.contextmanager
def reading_up_to(megabytes: float) -> Iterator[None]:
    """Let larger or only smaller files be read.

    Parameters
    ----------
    megabytes : float
        Size of the largest file that is read.
    """
    token = _largest.set(megabytes)
    try:
        yield
    finally:
        _largest.reset(token)


def read_bytes(path: Path, follow: bool = True, at: int | None = None) -> bytes:
    """Read a file: a plain one, no larger than the limit.

    Parameters
    ----------
    path : Path
    follow : bool
        Whether it may be a link to a file.
    at : int, optional
        The open folder in which it is looked up, by the last part of its path.

    Raises
    ------
    DiskError
        If that can't be done; the message says why.
    """
    try:
        with open_plain(path, follow, at) as file:
            return _limited(file, str(path))
    except OSError as error:
        raise DiskError(f"{path} can't be read: {why(error)}") from error
    except ValueError as error:
        raise DiskError(f"{str(path)!r} is not a file name: {error}") from error


def open_plain(path: Path, follow: bool = True, at: int | None = None) -> io.BufferedReader:
    """Open a file for reading, if it is a plain one: no folder, device or pipe.

    Parameters
    ----------
    path : Path
    follow : bool
        Whether a link at its end is followed.
    at : int, optional
        Handle of the folder that the path starts from.

    Raises
    ------
    DiskError
        If it is something else.
    OSError
        If it can't be opened.
    """
    name = path if at is None else path.name
    if not follow and at is None and path.is_symlink():
        raise _is_link(path)
    try:
        handle = os.open(name, _HOW | (0 if follow else _NO_LINK), dir_fd=at)
    except OSError as error:
        # What the flag answers where there is a link.
        if not follow and error.errno in (errno.ELOOP, errno.EMLINK):
            raise _is_link(path) from None
        raise
    try:
        kind = os.fstat(handle).st_mode
        if stat.S_ISDIR(kind) and not follow:
            raise DiskError(f"{path} is not a plain file, but a folder")
        if stat.S_ISDIR(kind):
            raise DiskError(f"{path} is a folder; name a file in it")
        if not stat.S_ISREG(kind):
            raise DiskError(
                f"{path} is not a plain file, but a device or a pipe; only plain files are read, "
                "and - for standard input"
            )
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def _is_link(path: Path) -> DiskError:
    return DiskError(f"{path} is not a plain file, but a link")


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file, which people write by hand: a small one.

    Parameters
    ----------
    path : Path

    Raises
    ------
    DiskError
        If it can't be read.
    SettingError
        If it is not TOML, or a thousand times what anybody writes; the message names the file.
    """
    data = read_bytes(path)
    if len(data) > _LARGEST_TOML:
        raise SettingError(
            f"{path} has {len(data) / 1e6:.1f} MB; a file of settings has {_LARGEST_TOML / 1e6:g} "
            "MB at the most"
        )
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except RecursionError:
        raise SettingError(f"{path}: tables in tables in tables; nobody means that") from None
    except ValueError as error:  # not TOML, not UTF-8, or a number of thousands of digits
        raise SettingError(f"{path} is not TOML: {error}") from None


def read_open(file: IO[bytes], name: str) -> bytes:
    """Read an open file to its end, if that is not too much.

    Parameters
    ----------
    file : binary file
        Anything with a `read` that gives bytes.
    name : str
        What to call it in messages.

    Raises
    ------
    ArgumentError
        If it gives text.
    DiskError
        If it can't be read, or is larger than the limit.
    """
    try:
        if not isinstance(file.read(0), bytes):
            raise ArgumentError(f'{name} is open as text; open it with mode "rb"')
        return _limited(file, name)
    except OSError as error:
        raise DiskError(f"{name} can't be read: {why(error)}") from error
    except ValueError as error:  # closed already
        raise DiskError(f"{name} can't be read: {error}") from error


def read_stdin() -> bytes:
    """Read standard input to its end.

    Raises
    ------
    DiskError
        If it is closed, can't be read, or larger than the limit.
    """
    if sys.stdin is None:
        raise DiskError("standard input is closed; name a file, or pipe one in")
    try:
        return _limited(sys.stdin.buffer, "standard input")
    except OSError as error:
        raise DiskError(f"standard input can't be read: {why(error)}") from error


def _limited(file: IO[bytes], name: str) -> bytes:
    """Everything in an open file, if it is not too much; also where its size is not known."""
    most = int(_largest.get() * 1e6)
    # What is no file of the system has no number.
    with contextlib.suppress(OSError, AttributeError):
        size = os.fstat(file.fileno()).st_size
        if size > most:
            raise _too_large(name, f"{size / 1e6:.0f} MB")
    parts, total = [], 0
    while part := file.read(_MOUTHFUL):
        parts.append(part)
        total += len(part)
        if total > most:
            raise _too_large(name, f"more than {most / 1e6:g} MB")
    return parts[0] if len(parts) == 1 else b"".join(parts)


def _too_large(name: str, size: str) -> DiskError:
    return DiskError(
        f"{name} has {size}, and files are read up to {_largest.get():g} MB; "
        "give --largest MB if it really is one"
    )


def why(error: OSError) -> str:
    """What the system says of an error.

    Parameters
    ----------
    error : OSError
    """
    return error.strerror or str(error) or type(error).__name__
