"""Files on disk: written whole or not at all."""

import contextlib
import os
from collections.abc import Callable, Collection, Iterator, Mapping
from pathlib import Path
from typing import TypeAlias
from unicodedata import normalize

from evenhand.errors import DiskError
from evenhand.take.locks import alone_in
from evenhand.take.parts import claim, drop
from evenhand.take.reading import why

#: What goes into a file: its bytes, or a function that writes them to the path it is given (for
#: files that are too long to be held in memory).
Content: TypeAlias = bytes | Callable[[Path], None]


def write_files(
    files: Mapping[Path, Content],
    overwrite: bool = False,
    staging: Path | None = None,
    tied: Collection[Path] = (),
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
    tied : collection of Path
        Those among them that must never stand beside another run's files, such as a change log: old
        ones are taken away before the others are replaced, new ones come last.

    Raises
    ------
    DiskError
        If one exists or can't be written; what was there before is there still.
    """
    for path in files:
        _check_plain(path)
    with contextlib.ExitStack() as undo:
        ready = [
            (undo.enter_context(_made(path, data, staging or path.parent)), path)
            for path, data in files.items()
        ]
        ready.sort(key=lambda pair: pair[1] in tied)
        for folder in dict.fromkeys(path.parent for path in files):
            undo.enter_context(alone_in(folder))
        _put_all(ready, {one: staging or one.parent for one in tied if overwrite}, overwrite)


def _put_all(ready: list[tuple[Path, Path]], tied: Mapping[Path, Path], overwrite: bool) -> None:
    """Give each file its name; those that are tied are away in a folder meanwhile."""
    made: list[Path] = []
    with contextlib.ExitStack() as aside:
        away = {
            path: aside.enter_context(_aside(path, folder))
            for path, folder in tied.items()
            if path.is_file()
        }
        try:
            for temporary, path in ready:
                _put_in_place(temporary, path, overwrite)
                made.append(path)
        except BaseException:
            if not overwrite:
                for path in made:
                    path.unlink(missing_ok=True)
            elif not made:
                for path, hidden in away.items():
                    os.replace(hidden, path)
            raise


@contextlib.contextmanager
def _aside(path: Path, folder: Path) -> Iterator[Path]:
    """Take a file away under the name of one in the making; it is gone at the end."""
    try:
        part = claim(folder, path.name)
    except OSError as error:
        raise _cannot(path, error) from error
    try:
        os.replace(path, part.path)
        yield part.path
    except OSError as error:
        raise _cannot(path, error) from error
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(part.path)
        drop(part)


def check_outputs(outputs: list[Path], inputs: list[Path], overwrite: bool) -> None:
    """Refuse outputs that would hurt something, before any work is done.

    Parameters
    ----------
    outputs, inputs : lists of Path
    overwrite : bool
        Whether files that exist may be replaced.

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
        for other in outputs[:index]:
            if _same_file(path, other):
                raise DiskError(f"{path} would be written twice; name two files")
            if path.parent == other.parent and folded(path.name) == folded(other.name):
                raise DiskError(
                    f"{path} and {other} are one file on systems that don't tell capitals apart; "
                    "name two files"
                )
        _check_plain(path)
        if not path.parent.is_dir():
            raise DiskError(f"the folder {path.parent} does not exist; make it first")
        if not overwrite and os.path.lexists(path):
            raise _exists(path)


def name_for_library(path: Path) -> str | bytes:
    """A name for a library that would encode it strictly: on POSIX a name may be no text.

    Parameters
    ----------
    path : Path
    """
    return str(path) if os.name == "nt" else os.fsencode(path)


def folded(name: str) -> str:
    """A name as systems see it that don't tell capitals apart, or forms of one accent.

    Two names with one folded form are one file on macOS and Windows (Unicode Standard Annex 15,
    normal form C; Unicode Standard, section 3.13, default case folding).

    Parameters
    ----------
    name : str
    """
    return normalize("NFC", normalize("NFC", name).casefold())


def _check_plain(path: Path) -> None:
    """Refuse what a rename would take away: a folder, or a device such as /dev/null."""
    try:
        if path.is_file() or not path.exists():
            return
        if path.is_dir():
            raise DiskError(f"{path} is a folder; name a file in it")
        raise DiskError(f"{path} is a device or a pipe and is not replaced; name a plain file")
    except OSError as error:
        raise _cannot(path, error) from error
    except ValueError as error:
        raise DiskError(f"{str(path)!r} is not a file name: {error}") from error


def make_folder(path: Path) -> None:
    """Make a folder and those above it, if they are not there.

    Parameters
    ----------
    path : Path

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
    except (OSError, ValueError):
        return os.path.realpath(one) == os.path.realpath(other)


@contextlib.contextmanager
def _made(path: Path, data: Content, folder: Path) -> Iterator[Path]:
    """`data` safely on disk under a name of its own in `folder`; gone at the end."""
    try:
        part = claim(folder, path.name)
    except OSError as error:
        raise _cannot(path, error) from error
    try:
        try:
            if callable(data):
                data(part.path)
            else:
                rest = memoryview(data)
                while rest:
                    rest = rest[os.write(part.handle, rest) :]
            os.fsync(part.handle)
        except OSError as error:
            raise _cannot(path, error) from error
        yield part.path
    finally:
        drop(part)


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
        raise _cannot(path, error) from error


def _exists(path: Path) -> DiskError:
    return DiskError(f"{path} exists; give --overwrite to replace it, or name another with -o")


def _cannot(path: Path, error: OSError) -> DiskError:
    return DiskError(f"{path} can't be written: {why(error)}")
