"""One take of a batch on this machine's disk: read, see whether it is done, make, write."""

import contextlib
import errno
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from evenhand.errors import EvenhandError
from evenhand.jobs.batch.deliver import deliver
from evenhand.jobs.batch.inputs import SONG, Source
from evenhand.jobs.batch.listening import page_beside, write_listening
from evenhand.jobs.batch.one import Made, Task, make
from evenhand.jobs.batch.record import OutputNames, is_done, key_of, names_of, read_record
from evenhand.jobs.batch.rows import Row, failed_row, row_of
from evenhand.recipe import OFF, Recipe, named_files, read_recipe
from evenhand.take import read_bytes

T = TypeVar("T")

#: What became of a take: done now, done by an earlier run, not done; or still to be done.
DONE, AS_BEFORE, FAILED, TO_DO = "done", "as before", "failed", "to do"

#: Errors of the disk after which no other take would fare better.
_HOPELESS = {errno.ENOSPC, errno.EDQUOT, errno.EROFS}

#: Recipes for one take lie beside it under its name with this suffix.
OWN_RECIPE = ".recipe.toml"


@dataclass(frozen=True)
class BatchSettings:
    """What is the same for all takes of a batch.

    Attributes
    ----------
    folder : Path
        Where results go.
    recipe : Recipe
        For takes without a recipe of their own.
    given : mapping of str to object
        Settings that win over a take's own recipe.
    redo : bool
        Whether takes that are done are done again.
    overwrite : bool
        Whether files that no record accounts for are replaced.
    staging : Path, optional
        Where files are made, inside `folder`.
    listen : bool
        Whether each take gets a listening page.
    """

    folder: Path
    recipe: Recipe = field(default_factory=Recipe)
    given: Mapping[str, Any] = field(default_factory=dict)
    redo: bool = False
    overwrite: bool = False
    staging: Path | None = None
    listen: bool = False


@dataclass(frozen=True)
class Outcome:
    """What became of a take.

    Attributes
    ----------
    state : str
        `DONE`, `AS_BEFORE` or `FAILED`.
    row : Row
        Its row in the tables.
    hopeless : bool
        Whether the reason of a failure will meet every other take.
    """

    state: str
    row: Row
    hopeless: bool = False


def recipe_for(source: Source, settings: BatchSettings) -> Recipe:
    """The recipe of a take: its own, if one lies beside it, and on the song beside it, if any.

    Raises
    ------
    EvenhandError
        If that can't be read.
    """
    own = Path(source.path).with_suffix(OWN_RECIPE)
    recipe = settings.recipe
    if os.path.lexists(own):
        # The folder may come from anywhere: what lies beside a take leads nowhere else.
        read_bytes(own, follow=False)
        recipe = read_recipe(own).with_settings(settings.given)
    song = Path(source.path).with_name(SONG)
    if recipe.song is None and recipe.fit == OFF and os.path.lexists(song):
        read_bytes(song, follow=False)
        return recipe.with_settings({"song": str(song)})
    return recipe


def begin(source: Source, settings: BatchSettings) -> Task | Outcome:
    """Read a take: what is to be done, or what an earlier run has done."""
    recipe = recipe_for(source, settings)
    data = read_bytes(Path(source.path))
    kit = read_bytes(Path(recipe.kit)) if recipe.kit.endswith(".toml") else None
    beside = {name: read_bytes(Path(path)) for name, path in named_files(recipe).items()}
    key = key_of(source.name, data, recipe, kit, beside)
    names = names_of(source.output)
    if not settings.redo:
        about = read_record(settings.folder / names.record)
        if about and is_done(about, key, settings.folder, names):
            # A record that somebody has cut short is no record.
            row = None
            with contextlib.suppress(LookupError, TypeError, AttributeError):
                row = row_of(about, names)
            if row is not None:
                # Without a place for files in the making the batch only looks ahead.
                if settings.staging:
                    _add_page(source, settings, names, anew=False)
                return Outcome(AS_BEFORE, row)
    return Task(source, key, data, recipe, kit, beside)


def finish(source: Source, settings: BatchSettings, task: Task, made: Made) -> Outcome:
    """Write what was made."""
    names = names_of(source.output)
    deliver(made, task.key, settings.folder, names, settings.staging, settings.overwrite)
    _add_page(source, settings, names, anew=True)
    return Outcome(DONE, row_of(made.about, names))


def _add_page(source: Source, settings: BatchSettings, names: OutputNames, anew: bool) -> None:
    """Make the listening page; one that is there already goes with the take."""
    path = page_beside(settings.folder / names.midi)
    there = path.exists()
    if (there and anew) or (settings.listen and not there):
        recipe = recipe_for(source, settings)
        write_listening(Path(source.path), recipe, path, settings.staging, settings.overwrite)


def do_all(source: Source, settings: BatchSettings) -> Outcome:
    """A take from its file to its results."""

    def work() -> Outcome:
        task = begin(source, settings)
        return task if isinstance(task, Outcome) else finish(source, settings, task, make(task))

    return settled(source, work)


def settled(source: Source, work: Callable[[], T]) -> T | Outcome:
    """What comes of some work on a take; an error becomes a failure of this take alone."""
    try:
        return work()
    except EvenhandError as error:
        cause = error.__cause__
        hopeless = isinstance(cause, OSError) and cause.errno in _HOPELESS
        return failed(source, str(error), hopeless)
    except MemoryError:
        return failed(source, "not enough memory for this take")


def failed(source: Source, reason: str, hopeless: bool = False) -> Outcome:
    """The outcome of a take that could not be done."""
    reason = reason.removeprefix(f"{source.name}: ")
    return Outcome(FAILED, failed_row(source.name, reason), hopeless)
