"""One take of a batch, from bytes to bytes: what every worker does, here or on another machine."""

import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from evenhand import __version__
from evenhand.errors import SettingError
from evenhand.jobs.batch.inputs import Source
from evenhand.jobs.batch.record import DONE, SCHEMA, RecordKey, digest, plain_recipe
from evenhand.paper import as_json, change_log, fit_json
from evenhand.recipe import BESIDE, Recipe, with_files
from evenhand.take import Take
from evenhand.tightener import Result, tighten


@dataclass(frozen=True)
class Task:
    """A take with all that is needed to tighten it: nothing of it is on a disk.

    Attributes
    ----------
    source : Source
        Which take it is; where it lies means nothing on another machine.
    key : RecordKey
    data : bytes
        The take.
    recipe : Recipe
    kit : bytes or None
        The kit file that the recipe names, if it names one.
    beside : dict of str to bytes
        The other files that it names, by setting.
    """

    source: Source
    key: RecordKey
    data: bytes
    recipe: Recipe
    kit: bytes | None = None
    beside: dict[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True)
class Made:
    """What came of a task: its tightened take and change log, and what its record tells."""

    midi: bytes
    changes: bytes
    about: dict[str, Any]


def make(task: Task) -> Made:
    """Tighten one take.

    Raises
    ------
    EvenhandError
        If it is no take, or the recipe does not fit it.
    """
    if task.key.version != __version__:
        raise SettingError(
            f"this is evenhand {task.key.version}, and the worker has {__version__}; install the "
            "same version everywhere"
        )
    take = Take.from_bytes(task.data, task.key.take)
    if task.kit is None and not task.beside:
        return _write(task, tighten(take, task.recipe))
    # These files are read from disk, and where this runs there may be none.
    with tempfile.TemporaryDirectory() as folder:
        recipe = task.recipe
        if task.kit is not None:
            path = Path(folder) / Path(recipe.kit).name
            path.write_bytes(task.kit)
            recipe = recipe.with_settings({"kit": str(path)})
        there = {}
        for name, data in task.beside.items():
            path = Path(folder) / BESIDE[name]
            path.write_bytes(data)
            there[name] = str(path)
        return _write(task, tighten(take, with_files(recipe, there)))


def _write(task: Task, result: Result) -> Made:
    midi, changes = result.take.to_bytes(), change_log(result.changes)
    about = {
        "schema": SCHEMA,
        "state": DONE,
        "key": vars(task.key),
        "files": {"midi": digest(midi), "changes": digest(changes)},
        **plain(_figures(task, result)),
    }
    return Made(midi, changes, about)


def _figures(task: Task, result: Result) -> dict[str, Any]:
    about = as_json(result)
    for name in ("evenhand", "input"):
        del about[name]
    recipe = plain_recipe(task.recipe, task.kit).settings()
    fitted = {"fit": fit_json(result.fitted)} if result.fitted else {}
    return {**about, **fitted, "recipe": recipe}


def plain(value: Any) -> Any:
    """Figures to six places, so that the last bit of a processor's arithmetic doesn't show."""
    if isinstance(value, dict):
        return {name: plain(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    return round(value, 6) + 0.0 if isinstance(value, float) else value
