"""Putting passes on disk so that a crash at any instant leaves what was there, and reads well."""

import json
from collections.abc import Sequence

from evenhand.passes.entry import Pass, as_line
from evenhand.passes.inside import Inside
from evenhand.passes.store import INDEX, History, is_whole


def mend(inside: Inside, history: History) -> None:
    """Put the index right after a crash: cut off half a line, add the lines it lacks."""
    before = b""
    if inside.has(INDEX):
        data = inside.read(INDEX)
        cut = data.rfind(b"\n") + 1
        if is_whole(data[cut:]):
            before = b"\n"
        elif data[cut:]:
            with inside.grown(INDEX) as index:
                index.truncate(cut)
    if before or history.unlisted:
        append_lines(inside, history.unlisted, before)


def append_lines(inside: Inside, passes: Sequence[Pass], before: bytes = b"") -> None:
    """Add lines to the index; if that fails, it is as long as it was.

    They are not forced to the disk: what a power failure takes away, `mend` adds again.
    """
    lines = [json.dumps(as_line(one), ensure_ascii=False) + "\n" for one in passes]
    with inside.grown(INDEX) as index:
        size = index.seek(0, 2)
        try:
            rest = before + "".join(lines).encode()
            while rest:
                rest = rest[index.write(rest) :]
        except OSError:
            index.truncate(size)
            raise
