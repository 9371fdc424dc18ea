"""The inside of a folder of passes, which may come from anywhere: no link in it is ever followed.

Where the system can, each folder is held open while something is done in it, so that nobody can put
another in its place meanwhile (POSIX.1-2008, `openat`).
"""

import contextlib
import os
import shutil
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from evenhand.errors import DiskError
from evenhand.take import read_bytes, why

_HOLDS = os.open in os.supports_dir_fd and os.rename in os.supports_dir_fd
_FOLDER = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0)
_NO_LINK = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
_BINARY = getattr(os, "O_BINARY", 0)


@dataclass(frozen=True)
class Inside:
    """A folder that has been entered.

    Attributes
    ----------
    path : Path
        What to call it.
    handle : int or None
        The open folder; None where the system can't work from one.
    """

    path: Path
    handle: int | None

    def read(self, name: str) -> bytes:
        """A file in it (raises `DiskError`)."""
        if not self.has(name):
            raise DiskError(f"{self.path / name} is missing")
        return read_bytes(self.path / name, follow=False, at=self.handle)

    def add(self, name: str, data: bytes) -> None:
        """Write a file that is not there yet, and see it to the disk."""
        with self._open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL) as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())

    @contextlib.contextmanager
    def grown(self, name: str) -> Iterator[BinaryIO]:
        """A file open at its end; it is made if it is not there."""
        with self._open(name, os.O_RDWR | os.O_CREAT | os.O_APPEND) as file:
            told = os.fstat(file.fileno())
            if not stat.S_ISREG(told.st_mode):
                raise DiskError(f"{self.path / name} is not a plain file")
            if told.st_nlink > 1:
                raise DiskError(
                    f"{self.path / name} has another name elsewhere, which would grow as well; "
                    "put a copy in its place"
                )
            yield file

    def move(self, name: str, other: "Inside", new: str) -> None:
        """Rename what is in it into another folder."""
        if self.handle is None or other.handle is None:
            (self.path / name).replace(other.path / new)
        else:
            os.replace(name, new, src_dir_fd=self.handle, dst_dir_fd=other.handle)

    def has(self, name: str) -> bool:
        """Whether anything has this name."""
        try:
            os.stat(self._at(name), dir_fd=self.handle, follow_symlinks=False)
        except OSError:
            return False
        return True

    def remove(self, name: str) -> None:
        """Take away what has this name: a folder with all in it, a link, anything."""
        if not self.has(name):
            return
        mode = os.stat(self._at(name), dir_fd=self.handle, follow_symlinks=False).st_mode
        if stat.S_ISDIR(mode):
            shutil.rmtree(self._at(name), dir_fd=self.handle)
        else:
            os.unlink(self._at(name), dir_fd=self.handle)

    @contextlib.contextmanager
    def child(self, name: str, make: bool = False) -> Iterator["Inside"]:
        """A folder in it (raises `DiskError`)."""
        path = self.path / name
        try:
            if make and not self.has(name):
                os.mkdir(self._at(name), dir_fd=self.handle)
            told = os.stat(self._at(name), dir_fd=self.handle, follow_symlinks=False)
            if not stat.S_ISDIR(told.st_mode):
                raise DiskError(f"{path} is not a folder, but a link or a file")
            inside = _entered(path, name, self.handle)
        except FileNotFoundError:
            raise DiskError(f"{path} is missing") from None
        except (OSError, ValueError) as error:
            raise DiskError(f"{path} can't be used: {_why(error)}") from error
        try:
            yield inside
        finally:
            inside.leave()

    def sync(self) -> None:
        """Make renames in it last; where a system can't do that, it is left to it."""
        if self.handle is not None:
            with contextlib.suppress(OSError):
                os.fsync(self.handle)

    def leave(self) -> None:
        """Let go of it."""
        if self.handle is not None:
            os.close(self.handle)

    def _at(self, name: str) -> str:
        return name if self.handle is not None else str(self.path / name)

    def _open(self, name: str, how: int) -> BinaryIO:
        if self.handle is None and (self.path / name).is_symlink():
            raise DiskError(f"{self.path / name} is a link, which is not followed")
        flags = how | _NO_LINK | _BINARY
        handle = os.open(self._at(name), flags, 0o666, dir_fd=self.handle)
        return os.fdopen(handle, "ab" if how & os.O_APPEND else "wb", buffering=0)


@contextlib.contextmanager
def enter(folder: Path) -> Iterator[Inside]:
    """The inside of a folder, which itself may be reached through a link.

    Raises
    ------
    DiskError
        If it can't be entered.
    """
    try:
        inside = _entered(folder, str(folder), None)
    except (OSError, ValueError) as error:
        raise DiskError(f"{folder} can't be read: {_why(error)}") from error
    try:
        yield inside
    finally:
        inside.leave()


def read_inside(folder: Path, *names: str) -> bytes:
    """A file below a folder, by the names on the way to it (raises `DiskError`)."""
    with contextlib.ExitStack() as stack:
        inside = stack.enter_context(enter(folder))
        for name in names[:-1]:
            inside = stack.enter_context(inside.child(name))
        return inside.read(names[-1])


def _entered(path: Path, name: str, above: int | None) -> Inside:
    if not _HOLDS:
        return Inside(path, None)
    no_link = 0 if above is None else getattr(os, "O_NOFOLLOW", 0)
    return Inside(path, os.open(name, _FOLDER | no_link, dir_fd=above))


def _why(error: OSError | ValueError) -> str:
    return why(error) if isinstance(error, OSError) else str(error)
