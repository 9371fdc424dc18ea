"""Locks between processes, held on a file by the operating system: they end with their process.

Own code, since the library at hand (filelock) takes a tenth of a run to import.
"""

import contextlib
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

#: How often a lock that is taken is tried again, and for how long on a folder, seconds.
TURN, _PATIENCE = 0.02, 10.0

if sys.platform == "win32":
    import msvcrt

    def try_lock(handle: int) -> bool:
        """Take the lock of an open file, if nobody has it.

        Parameters
        ----------
        handle : int
            Of the open file.
        """
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def try_lock(handle: int) -> bool:
        """Take the lock of an open file, if nobody has it.

        Parameters
        ----------
        handle : int
            Of the open file.
        """
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


def is_still(handle: int, path: Path) -> bool:
    """Whether an open file is still the one with this name.

    Parameters
    ----------
    handle : int
        Of the open file.
    path : Path
    """
    with contextlib.suppress(OSError):
        return os.path.samestat(os.fstat(handle), os.lstat(path))
    return False


@contextlib.contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Be the only one who puts results in a folder, where the system can lock a folder.

    It is held for a few renames. Whoever holds it for long is no evenhand, and is not waited for.
    """
    with contextlib.ExitStack() as stack:
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            stack.callback(os.close, handle)
            end = time.monotonic() + _PATIENCE
            while not try_lock(handle) and time.monotonic() < end:
                time.sleep(TURN)
        yield
