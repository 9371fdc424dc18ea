"""A lock between processes, held on a file by the operating system: it ends with its process.

Own code, since the library at hand (filelock) takes a tenth of a run to import.
"""

import contextlib
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from evenhand.errors import DiskError

LOCK = ".lock"

#: How often a lock that is taken is tried again, seconds.
_TURN = 0.02


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
            handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT, 0o666)
            try:
                if _take(handle) and _is_still(handle, folder / LOCK):
                    return handle
            except OSError:
                os.close(handle)
                raise
            os.close(handle)
        if time.monotonic() >= end:
            raise DiskError(
                f"another evenhand is at work in {folder}; run it again when that one is done"
            )
        time.sleep(_TURN)


def _is_still(handle: int, path: Path) -> bool:
    """Whether the locked file is still the one with this name: an empty folder is taken away."""
    with contextlib.suppress(FileNotFoundError):
        return os.path.samestat(os.fstat(handle), path.stat())
    return False


if sys.platform == "win32":
    import msvcrt

    def _take(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _take(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
