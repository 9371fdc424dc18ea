"""A folder of passes to try things on."""

import functools
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from evenhand import Recipe, Take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.paper.change_log import change_log
from evenhand.passes.entry import Pass
from evenhand.passes.keeping import Draft, record

WHEN = datetime(2026, 11, 2, 10, 0, tzinfo=UTC)


@functools.cache
def draft(
    recipe: Recipe | None = None,
    *,
    source: bytes | None = None,
    note: str = "",
    start: int = 0,
    take: str = "take.mid",
    kit: bytes | None = None,
) -> Draft:
    source = source or demo_take()
    result = tighten(Take.from_bytes(source), recipe)
    output, log = result.take.to_bytes(), change_log(result.changes)
    return Draft(result, source, output, log, take, "take-tight.mid", WHEN, note, start, kit)


def _nothing() -> None:
    """Stand in for writing the outputs."""


def add(folder: Path, one: Draft, write: Callable[[], None] = _nothing) -> Pass:
    return record(folder, one, write)


def fill(folder: Path) -> list[Draft]:
    """Three passes: the defaults, weaker, and one from pass 1."""
    first = draft()
    drafts = [
        first,
        draft(Recipe(strength=60, hold=("3:1-4:1",)), note="second verse looser"),
        draft(Recipe(grid="1/8"), source=first.output, start=1),
    ]
    for one in drafts:
        add(folder, one)
    return drafts


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder by its relative name (the lock holds nothing)."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != ".lock"
    }
