"""Putting passes on disk so that a crash at any instant leaves what was there, and reads well."""

import contextlib
import json
import os
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from evenhand.errors import DiskError
from evenhand.paper.passes import Pass, as_line
from evenhand.paper.passes_folder import INDEX, History, is_whole, read_plain

LOCK = ".lock"
_TURN = 1.0


@contextlib.contextmanager
def locked(folder: Path, patience: float) -> Iterator[None]:
    """Be the only one who records in `folder`, which is made, and taken away if it stays empty.

    Raises
    ------
    DiskError
        If another process is at it for longer than `patience` seconds.
    OSError
        If the folder can't be written to.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(folder / LOCK)
    end = time.monotonic() + patience
    while not lock.is_locked:
        folder.mkdir(exist_ok=True)
        try:
            # In turns, since the one before may have taken the empty folder away.
            lock.acquire(timeout=min(_TURN, patience))
        except Timeout:
            if time.monotonic() >= end:
                raise DiskError(
                    f"another evenhand has been recording in {folder} for {patience:g} s; "
                    "run it again when that one is done"
                ) from None
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            if [path.name for path in folder.iterdir()] == [LOCK]:
                # Whoever waits for this very file finds it gone and makes a new one.
                (folder / LOCK).unlink()
                folder.rmdir()
        lock.release()


def mend(history: History) -> None:
    """Put the index right after a crash: cut off half a line, add the lines it lacks."""
    index = history.folder / INDEX
    before = b""
    if index.exists():
        data = read_plain(index)
        cut = data.rfind(b"\n") + 1
        if is_whole(data[cut:]):
            before = b"\n"
        elif data[cut:]:
            os.truncate(index, cut)
    if before or history.unlisted:
        append_lines(history.folder, history.unlisted, before)


def append_lines(folder: Path, passes: Sequence[Pass], before: bytes = b"") -> None:
    """Add lines to the index; if that fails, it is as long as it was."""
    lines = [json.dumps(as_line(one), ensure_ascii=False) + "\n" for one in passes]
    with (folder / INDEX).open("ab", buffering=0) as index:
        size = index.tell()
        try:
            rest = before + "".join(lines).encode()
            while rest:
                rest = rest[index.write(rest) :]
            os.fsync(index.fileno())
        except OSError:
            index.truncate(size)
            raise


def write_safely(path: Path, data: bytes) -> None:
    """Write a file and see it to the disk."""
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def sync_folder(folder: Path) -> None:
    """Make renames in a folder last; where a system can't do that, it is left to it."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
