"""The passes over a take that are on record, in sentences."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from evenhand.errors import DiskError
from evenhand.passes import (
    ORIGINAL,
    History,
    Pass,
    folder_beside,
    read_history,
    recipe_changes,
    sha256,
)
from evenhand.take import Take


def passes_of(take: Take, name: str, output: str) -> list[dict[str, Any]]:
    """Tell the passes over a take, the oldest first.

    Parameters
    ----------
    take : Take
        As read: its bytes tell which passes are its own.
    name : str
        Its file; the record is named after it.
    output : str
        The file that the record lies beside.

    Returns
    -------
    list of dict
        One `text` each. A record that can't be read is told as such: it keeps nobody from
        listening.
    """
    folder = folder_beside(Path(output), Path(name).stem)
    if not folder.is_dir():
        return []
    try:
        history = read_history(folder)
    except DiskError as error:
        return [{"text": str(error)}]
    texts = [*_sentences(history, sha256(take.to_bytes())), *history.problems]
    return [{"text": text} for text in texts]


def _sentences(history: History, original: str) -> Iterator[str]:
    own = [one for one in history.passes if one.original == original]
    known = {one.number: one for one in own}
    last: Pass | None = None
    for one in own:
        before = known.get(one.start) or last
        note = f" “{one.note}”" if one.note else ""
        changes = "; ".join(recipe_changes(one, before))
        yield f"Pass {one.number}, {_start(one)}: {changes}.{note} {_figures(one)}"
        last = one if one.start == ORIGINAL else last


def _start(one: Pass) -> str:
    return f"from pass {one.start}" if one.start else "from the take as played"


def _figures(one: Pass) -> str:
    moved, flags = one.figures["moved"], one.figures["flags"]
    parts = [f"{moved:g} hits moved"] if moved is not None else []
    before, after = one.figures["spread_before"], one.figures["spread_after"]
    if before is not None and after is not None:
        parts.append(f"spread {before:.1f} ms before, {after:.1f} ms after")
    parts += [f"{flags:g} flags"] if flags is not None else []
    return f"{', '.join(parts)}."
