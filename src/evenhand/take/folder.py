"""Folders on disk: written beside their place, then renamed, so that they appear whole."""

import contextlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from evenhand.errors import DiskError


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
    work: Path | None = None
    try:
        try:
            work = Path(tempfile.mkdtemp(".part", f".{path.name[:100]}.", path.parent))
            yield work
            for file in work.iterdir():
                _settle(file)
            work.chmod(0o777 & ~_umask())
            _put_in_place(work, path, overwrite)
        except OSError as error:
            raise _cannot(path, error) from error
    finally:
        if work:
            shutil.rmtree(work, ignore_errors=True)


def _settle(file: Path) -> None:
    """Wait until a file is on the disk."""
    with file.open("rb") as handle:
        os.fsync(handle.fileno())


def _put_in_place(work: Path, path: Path, overwrite: bool) -> None:
    if not (overwrite and path.is_dir()):
        # An empty folder that has come up meanwhile gives way; anything else is an error.
        work.rename(path)
        return
    old = Path(tempfile.mkdtemp(".old", f".{path.name[:100]}.", path.parent))
    path.rename(old)
    try:
        work.rename(path)
    except BaseException:
        old.rename(path)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _cannot(path: Path, error: OSError) -> DiskError:
    why = error.strerror or str(error) or type(error).__name__
    return DiskError(f"{path} can't be written: {why}")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
