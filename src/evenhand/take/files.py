"""Files on disk: read whole, written whole or not at all."""

import contextlib
import os
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TypeAlias

from evenhand.errors import DiskError


def read_bytes(path: Path) -> bytes:
    """Read a file.

    Raises
    ------
    DiskError
        If that can't be done; the message says why.
    """
    try:
        if path.is_dir():
            raise DiskError(f"{path} is a folder; name a MIDI file in it")
        return path.read_bytes()
    except OSError as error:
        raise DiskError(f"{path} can't be read: {why(error)}") from error
    except ValueError as error:
        raise DiskError(f"{str(path)!r} is not a file name: {error}") from error


#: What goes into a file: its bytes, or a function that writes them to the path it is given (for
#: files that are too long to be held in memory).
Content: TypeAlias = bytes | Callable[[Path], None]


def write_files(
    files: Mapping[Path, Content], overwrite: bool = False, staging: Path | None = None
) -> None:
    """Write several files; each appears whole, and none before all are safely on disk.

    Parameters
    ----------
    files : mapping of Path to bytes or function
        See `Content`.
    overwrite : bool
        Whether files that exist are replaced.
    staging : Path, optional
        The folder in which they are made, on the same disk; if not given, where they will be.

    Raises
    ------
    DiskError
        If one exists or can't be written; what was there before is there still.
    """
    for path in files:
        _check_plain(path)
    with contextlib.ExitStack() as undo:
        ready = [
            (undo.enter_context(_temporary(path, data, staging or path.parent)), path)
            for path, data in files.items()
        ]
        made: list[Path] = []
        try:
            for temporary, path in ready:
                _put_in_place(temporary, path, overwrite)
                made.append(path)
        except BaseException:
            if not overwrite:
                for path in made:
                    path.unlink(missing_ok=True)
            raise


def check_outputs(outputs: list[Path], inputs: list[Path], overwrite: bool) -> None:
    """Refuse outputs that would hurt something, before any work is done.

    Raises
    ------
    DiskError
        If an output is an input (also through a link), is named twice, exists without
        `overwrite`, or has no folder to go to.
    """
    for index, path in enumerate(outputs):
        for source in inputs:
            if _same_file(path, source):
                raise DiskError(f"{path} is the input itself, which is never written; name another")
        if any(_same_file(path, other) for other in outputs[:index]):
            raise DiskError(f"{path} would be written twice; name two files")
        _check_plain(path)
        if not path.parent.is_dir():
            raise DiskError(f"the folder {path.parent} does not exist; make it first")
        if not overwrite and os.path.lexists(path):
            raise _exists(path)


def _check_plain(path: Path) -> None:
    """Refuse what a rename would take away: a folder, or a device such as /dev/null."""
    if path.is_dir():
        raise DiskError(f"{path} is a folder; name a file in it")
    if path.exists() and not path.is_file():
        raise DiskError(f"{path} is a device or a pipe and is not replaced; name a plain file")


def make_folder(path: Path) -> None:
    """Make a folder and those above it, if they are not there.

    Raises
    ------
    DiskError
        If that can't be done.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DiskError(f"the folder {path} can't be made: {why(error)}") from error


def _same_file(one: Path, other: Path) -> bool:
    try:
        return os.path.samefile(one, other)
    except OSError:
        return one.resolve() == other.resolve()


@contextlib.contextmanager
def _temporary(path: Path, data: Content, folder: Path) -> Iterator[Path]:
    """`data` safely on disk under a temporary name in `folder`; gone at the end."""
    name = ""
    try:
        try:
            handle, name = tempfile.mkstemp(".part", f".{path.name[:100]}.", folder)
            with open(handle, "wb") as file:
                if callable(data):
                    data(Path(name))
                else:
                    file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(name, 0o666 & ~_umask())
        except OSError as error:
            raise DiskError(f"{path} can't be written: {why(error)}") from error
        yield Path(name)
    finally:
        if name:
            with contextlib.suppress(FileNotFoundError):
                os.unlink(name)


def _put_in_place(temporary: Path, path: Path, overwrite: bool) -> None:
    try:
        if overwrite:
            os.replace(temporary, path)
            return
        try:
            # A link fails where the name has been taken meanwhile; a rename would not.
            os.link(temporary, path)
        except FileExistsError:
            raise _exists(path) from None
        except OSError:
            if os.path.lexists(path):
                raise _exists(path) from None
            os.rename(temporary, path)
    except OSError as error:
        raise DiskError(f"{path} can't be written: {why(error)}") from error


def _exists(path: Path) -> DiskError:
    return DiskError(f"{path} exists; give --overwrite to replace it, or name another with -o")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def why(error: OSError) -> str:
    """What the system says of an error."""
    return error.strerror or str(error) or type(error).__name__


def read_stdin() -> bytes:
    """Read standard input to its end."""
    return sys.stdin.buffer.read()
