"""Putting passes on disk so that a crash at any instant leaves what was there, and reads well."""

import contextlib
import json
import os
from collections.abc import Sequence
from pathlib import Path

from evenhand.passes.entry import Pass, as_line
from evenhand.passes.store import INDEX, History, is_whole, read_plain


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
    """Add lines to the index; if that fails, it is as long as it was.

    They are not forced to the disk: what a power failure takes away, `mend` adds again.
    """
    lines = [json.dumps(as_line(one), ensure_ascii=False) + "\n" for one in passes]
    with (folder / INDEX).open("ab", buffering=0) as index:
        size = index.tell()
        try:
            rest = before + "".join(lines).encode()
            while rest:
                rest = rest[index.write(rest) :]
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
