"""A lock on a folder between processes: it ends with its process."""

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path

from evenhand.errors import DiskError
from evenhand.take import TURN, is_still, try_lock

LOCK = ".lock"

#: The folder may come from anywhere: a link is not followed, a pipe not waited for.
_NO_LINK = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)


@contextlib.contextmanager
def locked(folder: Path, patience: float) -> Iterator[None]:
    """Be the only one who records in `folder`, which is made, and taken away if it stays empty.

    Parameters
    ----------
    folder : Path
    patience : float
        How long to wait for another process, seconds.

    Raises
    ------
    DiskError
        If another process is at it for longer.
    OSError
        If the folder can't be written to.
    """
    handle = _wait(folder, patience)
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            if [path.name for path in folder.iterdir()] == [LOCK]:
                (folder / LOCK).unlink()
                folder.rmdir()
        os.close(handle)


def _wait(folder: Path, patience: float) -> int:
    end = time.monotonic() + patience
    while True:
        folder.mkdir(exist_ok=True)
        with contextlib.suppress(FileNotFoundError):
            handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | _NO_LINK, 0o666)
            try:
                if try_lock(handle) and is_still(handle, folder / LOCK):
                    return handle
            except OSError:
                os.close(handle)
                raise
            os.close(handle)
        if time.monotonic() >= end:
            raise DiskError(
                f"another evenhand is at work in {folder}; run it again when that one is done"
            )
        time.sleep(TURN)
