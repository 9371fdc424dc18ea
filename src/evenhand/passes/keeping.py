"""Recording a pass: everything safely on disk first, then there by one rename.

The order of things, and what a crash between two of them leaves:

1. take the lock; make the files of the pass in `.staging/` (a crash: leftovers, cleared away by
   the next recording);
2. write the outputs of the run (a crash: the outputs, and no record of them);
3. rename `.staging/` to the number of the pass (from here on it is recorded);
4. append its line to the index (a crash: the line is missing or cut short, which readers make up
   for, see `store`, and the next recording mends).
"""

import contextlib
import json
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from evenhand import __version__
from evenhand.errors import DiskError, EvenhandError
from evenhand.paper import as_json
from evenhand.passes import disk
from evenhand.passes import store as place
from evenhand.passes.entry import (
    CHANGES,
    DETAILS,
    FIGURES,
    KIT,
    LARGEST_NUMBER,
    ORIGINAL,
    RECIPE,
    Pass,
    as_line,
    clean,
)
from evenhand.passes.inside import Inside, enter
from evenhand.passes.lock import locked
from evenhand.recipe import BESIDE, Recipe, named_files, recipe_toml, with_files
from evenhand.tightener import Result

#: Where the files of a pass are made, and the name of an original among them.
STAGING = ".staging"
_FRESH_ORIGINAL = "original"

#: How long to wait for another process that records on the same take, seconds.
PATIENCE = 20.0


@dataclass(frozen=True, eq=False)
class Draft:
    """A pass as it comes from the tightener, not yet numbered.

    Attributes
    ----------
    result : Result
    source : bytes
        What the pass read.
    output, changes : bytes
        The tightened take and its change log.
    take, wrote : str
        Name of the take, and of the file written as seen from beside the folder.
    when : datetime
        With its time zone.
    note : str
    start : int
        The pass it started from; 0 is the original.
    kit : bytes or None
        The kit file, if the recipe names one.
    beside : dict of str to bytes
        The other files that the recipe names, by setting.
    """

    result: Result
    source: bytes
    output: bytes
    changes: bytes
    take: str
    wrote: str
    when: datetime
    note: str = ""
    start: int = ORIGINAL
    kit: bytes | None = None
    beside: dict[str, bytes] = field(default_factory=dict)


def record(
    folder: Path, draft: Draft, write: Callable[[], None], patience: float = PATIENCE
) -> Pass:
    """Write the outputs of a run and record it.

    The outputs are written also where the record can't be.

    Parameters
    ----------
    folder : Path
        The folder of passes; made if it is not there.
    draft : Draft
    write : callable
        Writes the outputs.
    patience : float
        How long to wait for another process, seconds.

    Raises
    ------
    DiskError
        If `write` raised it (then nothing is recorded), or if the pass could not be recorded
        (then the message says that the outputs are written).
    """
    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(locked(folder, patience))
            inside = stack.enter_context(enter(folder))
            stack.callback(_clear, inside)
            one = _stage(inside, draft)
        except (OSError, EvenhandError) as error:
            # Give room back and let others record before the outputs are written.
            stack.close()
            write()
            raise _not_on_record(draft, _why(error)) from error
        try:
            write()
        except DiskError as error:
            # The outputs come first: give back the room that the record took, and try once more.
            stack.close()
            write()
            raise _not_on_record(draft, f"there was no room for both ({error})") from error
        _commit(inside, one, draft)
        return one


def _clear(inside: Inside) -> None:
    with contextlib.suppress(OSError):
        inside.remove(STAGING)


def _not_on_record(draft: Draft, why: str) -> DiskError:
    return DiskError(f"{draft.wrote} is written, but this pass is not on record: {why}")


def _stage(inside: Inside, draft: Draft) -> Pass:
    """Make all files of the pass, under a name that readers pass over."""
    history = place.read_history(inside.path)
    disk.mend(inside, history)
    files = {
        RECIPE: recipe_file(draft.result.recipe).encode(),
        CHANGES: draft.changes,
        DETAILS: _details(draft.result),
    }
    if draft.kit is not None:
        files[KIT] = draft.kit
    files |= {BESIDE[name]: data for name, data in draft.beside.items()}
    one = _numbered(draft, history, {name: place.sha256(data) for name, data in files.items()})
    files[place.ABOUT] = json.dumps(as_line(one), ensure_ascii=False, indent=1).encode() + b"\n"
    files[place.OUTPUT] = draft.output
    if draft.start == ORIGINAL and not _is_kept(inside.path, one.original):
        files[_FRESH_ORIGINAL] = draft.source
    inside.remove(STAGING)
    with inside.child(STAGING, make=True) as staging:
        for name, data in files.items():
            staging.add(name, data)
        staging.sync()
    return one


def _details(result: Result) -> bytes:
    """All figures and flags. What the line tells is left out, and so are this machine's folders."""
    details = as_json(result)
    for name in ("evenhand", "input", "recipe"):
        del details[name]
    return clean(json.dumps(details, ensure_ascii=False, indent=1)).encode() + b"\n"


def _is_kept(folder: Path, sha: str) -> bool:
    """Whether the original is there; a copy that was damaged meanwhile counts as missing."""
    try:
        return place.sha256(place.read_original(folder, sha)) == sha
    except DiskError:
        return False


def recipe_file(recipe: Recipe) -> str:
    """The recipe as it lies in the folder of a pass, where the kit file lies beside it."""
    own_kit = recipe.kit.endswith(".toml")
    recipe = with_files(recipe, {name: BESIDE[name] for name in named_files(recipe)})
    return recipe_toml(recipe.with_settings({"kit": KIT}) if own_kit else recipe)


def _commit(inside: Inside, one: Pass, draft: Draft) -> None:
    """The pass is there at once (the original before it, which alone means nothing)."""
    try:
        with inside.child(STAGING) as staging:
            if staging.has(_FRESH_ORIGINAL):
                with inside.child(place.ORIGINALS, make=True) as originals:
                    staging.move(_FRESH_ORIGINAL, originals, place.original_name(one.original))
                    originals.sync()
        inside.move(STAGING, inside, one.folder)
        inside.sync()
    except (OSError, DiskError) as error:
        raise _not_on_record(draft, _why(error)) from error
    try:
        disk.append_lines(inside, [one])
    except (OSError, DiskError) as error:
        raise DiskError(
            f"{draft.wrote} is written and pass {one.number} is on record, but its line in "
            f"{inside.path / place.INDEX} could not be added: {_why(error)}; the next pass adds it"
        ) from error


def _numbered(draft: Draft, history: place.History, files: dict[str, str]) -> Pass:
    sha, recipe = place.sha256(draft.source), draft.result.recipe.settings()
    if draft.kit is not None:
        recipe["kit"] = Path(recipe["kit"]).name
    names = {name: Path(path).name for name, path in named_files(draft.result.recipe).items()}
    recipe |= {name: getattr(with_files(draft.result.recipe, names), name) for name in names}
    taken = {one.number for one in history.passes} | set(place.numbered_folders(history.folder))
    return Pass(
        number=_next_number(taken),
        start=draft.start,
        time=draft.when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        evenhand=__version__,
        note=clean(draft.note),
        take=clean(draft.take),
        wrote=clean(draft.wrote),
        original=sha if draft.start == ORIGINAL else history.get(draft.start).original,
        input=sha,
        output=place.sha256(draft.output),
        files=files,
        # As JSON gives it back, so that what was written equals what is read.
        recipe=json.loads(clean(json.dumps(recipe, ensure_ascii=False))),
        figures=_headline(draft.result),
    )


def _next_number(taken: set[int]) -> int:
    """Behind all others; where somebody has put the last one there is, the first that is free."""
    number = 1 + max([ORIGINAL, *taken])
    if number > LARGEST_NUMBER:
        number = next(free for free in range(1, LARGEST_NUMBER + 1) if free not in taken)
    return number


def _headline(result: Result) -> dict[str, float | None]:
    figures = result.figures
    values: dict[str, Any] = {
        **vars(figures.tightness["all"]),
        **figures.actions,
        "hits": figures.hits,
        "flags": len(result.flags),
        "largest_move": figures.largest_move,
    }
    return {name: _rounded(values[name]) for name in FIGURES}


def _rounded(value: float) -> float | None:
    if isinstance(value, int):
        return value
    return None if math.isnan(value) else round(value, 3) + 0.0


def _why(error: Exception) -> str:
    if isinstance(error, OSError):
        return f"{error.filename}: {error.strerror}" if error.filename else str(error.strerror)
    return str(error)
