"""Files in the making: `.NAME.part` beside their place, until they are whole and get their name.

Each is locked by the run that makes it. What a killed run leaves is locked by nobody: the next run
that makes a file of that name clears it away. Several runs at once use `.NAME.1.part` and so on.
"""

import contextlib
import errno
import os
import shutil
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from evenhand.take.locks import is_still, try_lock

#: How many runs can make a file of one name at once.
_MOST = 64

#: Longest name that is kept as it is, bytes; a longer one would outgrow what disks allow (255).
_LONGEST = 200

_NEW = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0)
_OLD = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
_BINARY = getattr(os, "O_BINARY", 0)


@dataclass(frozen=True)
class HalfWritten:
    """A file in the making that this process owns.

    Attributes
    ----------
    path : Path
    handle : int
        Open for writing, and locked.
    """

    path: Path
    handle: int

    @property
    def folder(self) -> Path:
        """A name for a folder in the making; whoever owns the part owns it."""
        return Path(f"{self.path}-folder")

    @property
    def old(self) -> Path:
        """A name for what is about to be replaced; whoever owns the part owns it."""
        return Path(f"{self.path}-old")


def claim(folder: Path, name: str) -> HalfWritten:
    """Begin a file in the making, and clear away what killed runs have left of it.

    Parameters
    ----------
    folder : Path
        Where it is made.
    name : str
        What the file will be called.

    Raises
    ------
    OSError
        If it can't be made.
    """
    mine: HalfWritten | None = None
    for path in _names(folder, name):
        if os.path.lexists(path):
            _clear(path, folder / name)
        elif mine:
            break
        if not mine:
            mine = _begin(path)
    if not mine:
        raise FileExistsError(errno.EEXIST, "too many runs are at work on it", str(folder / name))
    return mine


def drop(part: HalfWritten) -> None:
    """End a part: its name goes, whatever has become of it."""
    try:
        _remove_folders(part)
        with contextlib.suppress(OSError):
            if is_still(part.handle, part.path):
                part.path.unlink()
    finally:
        os.close(part.handle)


def _names(folder: Path, name: str) -> Iterator[Path]:
    raw, short = os.fsencode(name), name
    if len(raw) > _LONGEST:
        from hashlib import sha256

        short = sha256(raw).hexdigest()[:32]
    for number in range(_MOST):
        yield folder / f".{short}{f'.{number}' if number else ''}.part"


def _begin(path: Path) -> HalfWritten | None:
    """The part with this name; None if somebody else has it."""
    try:
        handle = os.open(path, _NEW | _BINARY, 0o666)
    except FileExistsError:
        return None
    locked = True
    # A disk that knows no locks can hold files all the same.
    with contextlib.suppress(OSError):
        locked = try_lock(handle)
    if locked and is_still(handle, path):
        return HalfWritten(path, handle)
    os.close(handle)
    return None


def _clear(path: Path, place: Path) -> None:
    """Take a part away, if no process owns it; links and what is no file are not ours."""
    with contextlib.suppress(OSError):
        handle = os.open(path, _OLD | _BINARY)
        try:
            plain = stat.S_ISREG(os.fstat(handle).st_mode)
            if plain and try_lock(handle) and is_still(handle, path):
                part = HalfWritten(path, handle)
                if part.old.is_dir() and not os.path.lexists(place):
                    # Killed between the two renames: what was there comes back.
                    part.old.rename(place)
                _remove_folders(part)
                path.unlink()
        finally:
            os.close(handle)


def _remove_folders(part: HalfWritten) -> None:
    for folder in (part.folder, part.old):
        if os.path.lexists(folder) and not folder.is_symlink():
            shutil.rmtree(folder, ignore_errors=True)
