"""Folders on disk: written beside their place, then renamed, so that they appear whole."""

import contextlib
import os
from collections.abc import Callable, Iterator
from pathlib import Path

from evenhand.errors import DiskError
from evenhand.take.locks import alone_in
from evenhand.take.parts import HalfWritten, claim, drop
from evenhand.take.reading import why

#: From `linux/fs.h` and `linux/fcntl.h`: change names with each other; paths as they are.
_EXCHANGE, _HERE = 2, -100


def check_folder(path: Path, is_ours: Callable[[str], bool], overwrite: bool) -> None:
    """Refuse a folder that would hurt something, before any work is done.

    Parameters
    ----------
    path : Path
    is_ours : callable
        Whether a file name is one that would be written there; a folder that holds anything else
        is never replaced.
    overwrite : bool

    Raises
    ------
    DiskError
        If the folder can't be made there, or exists and may not be replaced.
    """
    try:
        if not path.name:
            raise DiskError(f"{path} can't be made; name a new folder in it")
        if not path.parent.is_dir():
            raise DiskError(f"the folder {path.parent} does not exist; make it first")
        if not os.path.lexists(path):
            return
        if path.is_symlink() or not path.is_dir():
            raise DiskError(f"{path} is there already and no folder; name another with -o")
        strangers = sorted(one.name for one in path.iterdir() if not is_ours(one.name))
        if strangers:
            raise DiskError(
                f"{path} holds other files ({strangers[0]}), so it is not replaced; "
                "name a new folder with -o"
            )
        if not overwrite:
            raise DiskError(f"{path} exists; give --overwrite to replace it, or name another")
    except OSError as error:
        raise _cannot(path, error) from error


@contextlib.contextmanager
def new_folder(path: Path, overwrite: bool) -> Iterator[Path]:
    """A folder to write in; it stands at `path` when the block has ended well, else nowhere.

    Parameters
    ----------
    path : Path
        See `check_folder`.
    overwrite : bool
        Whether a folder that is there is replaced.

    Raises
    ------
    DiskError
        If something can't be written; what was there before is there still.
    """
    try:
        part = claim(path.parent, path.name)
    except OSError as error:
        raise _cannot(path, error) from error
    try:
        part.folder.mkdir()
        yield part.folder
        for file in part.folder.iterdir():
            _settle(file)
        with alone_in(path.parent):
            _put_in_place(part, path, overwrite)
    except OSError as error:
        raise _cannot(path, error) from error
    finally:
        drop(part)


def _settle(file: Path) -> None:
    """Wait until a file is on the disk."""
    with file.open("rb") as handle:
        os.fsync(handle.fileno())


def _put_in_place(part: HalfWritten, path: Path, overwrite: bool) -> None:
    if not (overwrite and path.is_dir()):
        # An empty folder that has come up meanwhile gives way; anything else is an error.
        part.folder.rename(path)
    elif not _exchanged(part.folder, path):
        path.rename(part.old)
        try:
            part.folder.rename(path)
        except BaseException:
            part.old.rename(path)
            raise


def _exchanged(one: Path, other: Path) -> bool:
    """Let two folders change names in one step, where the system can (Linux: renameat2(2))."""
    import ctypes

    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    names = os.fsencode(one), os.fsencode(other)
    return bool(rename(_HERE, names[0], _HERE, names[1], _EXCHANGE) == 0)


def _cannot(path: Path, error: OSError) -> DiskError:
    return DiskError(f"{path} can't be written: {why(error)}")
