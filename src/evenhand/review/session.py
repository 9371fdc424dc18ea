"""One take under review: what is wanted, what is worked out, what is on disk.

Changes are made to what is wanted at once. Working it out takes longer: it is done aside, on values
that nobody else alters, and what was meanwhile overtaken by a newer wish is dropped. A state counts
once its recipe is on disk; one that the take or the disk refuses is taken back as a whole.
"""

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from evenhand.errors import DiskError
from evenhand.listen import Names, compare, page_sounds, result_data, take_data
from evenhand.recipe import Recipe, named_files, recipe_toml, with_files
from evenhand.review.edges import DecisionFiles, Edges, KeptPass
from evenhand.review.heard import marks_toml, plain
from evenhand.review.state import Undoable
from evenhand.take import Take, read_bytes, write_files
from evenhand.tightener import Result, tighten


@dataclass(frozen=True, eq=False)
class Done:
    """A history that was worked out and written.

    Attributes
    ----------
    history : Undoable
    result : Result
    data : dict
        What the page shows of it.
    number : int
        Counts what was worked out.
    """

    history: Undoable
    result: Result
    data: dict[str, Any]
    number: int


class Session:
    """The review of one take; its methods are called one at a time.

    Parameters
    ----------
    take : Take
    name : str
        The take's file.
    history : Undoable
        Where to go on from.
    places : DecisionFiles
    edges : Edges
    """

    def __init__(
        self, take: Take, name: str, history: Undoable, places: DecisionFiles, edges: Edges
    ) -> None:
        self._take, self._places, self._keep = take, places, edges.keep
        self._hash = hashlib.sha256(take.to_bytes()).hexdigest()
        self._passes = edges.passes
        self._slot: tuple[Recipe, list[float]] | None = None
        self._sounding: bytes | None = None
        self._on_disk = {path: _bytes_of(path) for path in (places.recipe, places.marks)}
        self.done = self._worked_out(history, 0)
        comparison = compare(self.done.result)
        self.fixed = {
            **take_data(comparison, Names(name)),
            "recipe_file": places.recipe.name,
            "command": None,
            "sounds": {name: one.offset_ms for name, one in edges.sounds.items()},
        }
        self._comparison, self._samples = comparison, edges.samples
        if edges.samples:
            # What is wrong with them is told before the page opens.
            self.voices()

    def voices(self) -> bytes:
        """What the page plays, as JSON; it takes a while, and the page can be shown meanwhile."""
        if self._sounding is None:
            sounds = page_sounds(self._comparison, self._samples)
            self._sounding = json.dumps(sounds, separators=(",", ":")).encode()
        return self._sounding

    def advance(self, history: Undoable) -> Done:
        """Work a history out and write its decisions.

        Raises
        ------
        EvenhandError
            If the take refuses the recipe, or the disk the file; then all is as it was.
        """
        done = self._worked_out(history, self.done.number + 1)
        self._write(history)
        self.done = done
        return done

    def keep(self, replacing: bool) -> KeptPass:
        """Write what `evenhand tighten` with this recipe writes."""
        self._write(self.done.history, anyway=not self._places.recipe.exists())
        kept = self._keep(self.done.result, replacing)
        self._passes = kept.passes
        self.done = replace(
            self.done,
            data={**self.done.data, "passes": list(kept.passes)},
            number=self.done.number + 1,
        )
        return kept

    def _worked_out(self, history: Undoable, number: int) -> Done:
        recipe = history.present.recipe
        before: Done | None = getattr(self, "done", None)
        if before and before.history.present.recipe == recipe:
            result, shown = before.result, before.data
        else:
            result = tighten(self._take, recipe, before.result.ground if before else None)
            shown = result_data(compare(result))
        data = {
            **shown,
            "passes": list(self._passes),
            "marks": [plain(one) for one in history.present.marks],
            "steps": [len(history.past), len(history.future)],
            "slot": self._set_aside(history, shown),
        }
        return Done(history, result, data, number)

    def _set_aside(self, history: Undoable, shown: Mapping[str, Any]) -> list[float] | None:
        """When each hit sounds with the settings that were put aside."""
        if history.slot is None:
            return None
        if self._slot is None or self._slot[0] != history.slot:
            if history.slot == history.present.recipe:
                after = shown["hits"]["after"]
            else:
                after = result_data(compare(tighten(self._take, history.slot)))["hits"]["after"]
            self._slot = (history.slot, after)
        return self._slot[1]

    def _write(self, history: Undoable, anyway: bool = False) -> None:
        """Put the decisions on disk, each file whole or not at all; only those that changed."""
        before, now = self.done.history.present, history.present
        files = {}
        if anyway or now.recipe != before.recipe:
            files[self._places.recipe] = self._recipe_bytes(now.recipe)
        if now.marks != before.marks:
            files[self._places.marks] = marks_toml(now.marks, self._hash)
        for path in files:
            if _bytes_of(path) != self._on_disk[path]:
                raise DiskError(
                    f"{path}: another program has changed it; nothing was written. Start the "
                    "review again to go on from that file"
                )
        if files:
            write_files(files, overwrite=True)
            self._on_disk.update(files)

    def _recipe_bytes(self, recipe: Recipe) -> bytes:
        """The recipe; files are named as seen from beside it."""
        if recipe.kit.endswith(".toml"):
            recipe = recipe.with_settings({"kit": _beside(recipe.kit, self._places.recipe)})
        files = named_files(recipe)
        there = {name: _beside(file, self._places.recipe) for name, file in files.items()}
        return recipe_toml(with_files(recipe, there)).encode("utf-8")


def _bytes_of(path: Path) -> bytes | None:
    return read_bytes(path) if path.exists() else None


def _beside(file: str, recipe: Path) -> str:
    """A file as a recipe names it; on another drive of Windows with its whole path."""
    try:
        return Path(os.path.relpath(file, recipe.parent)).as_posix()
    except ValueError:
        return Path(file).resolve().as_posix()
