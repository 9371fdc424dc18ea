"""A pass once more: its output from the record, and the proof that the record holds."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from evenhand import __version__
from evenhand.errors import DiskError, EvenhandError
from evenhand.passes import store as place
from evenhand.passes.entry import KIT, RECIPE, Pass
from evenhand.passes.store import History, sha256
from evenhand.recipe import read_recipe
from evenhand.take import Take, read_bytes
from evenhand.tightener import tighten


@dataclass(frozen=True)
class Proof:
    """What verifying a folder of passes has shown.

    Attributes
    ----------
    passes : dict of int to tuple of str
        By number, what is wrong with each pass; empty where it is as recorded.
    index : tuple of str
        What is wrong with the index.
    edited : tuple of str
        Files beside the folder that are no longer what a pass read or wrote. That is nobody's
        fault: the record is whole.
    """

    passes: dict[int, tuple[str, ...]]
    index: tuple[str, ...]
    edited: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether everything on record is as it was recorded."""
        return not self.index and not any(self.passes.values())


def run_again(history: History, one: Pass) -> bytes:
    """Run the stored recipe on the stored input.

    Raises
    ------
    EvenhandError
        If something for it is missing or was changed.
    """
    source = place.stored_input(history, one)
    for name in (RECIPE, KIT):
        if name in one.files:
            place.stored_file(history, one, name)
    recipe = read_recipe(history.folder / one.folder / RECIPE)
    return tighten(
        Take.from_bytes(source, f"the input of pass {one.number}"), recipe
    ).take.to_bytes()


def output_of(history: History, one: Pass) -> bytes:
    """The output of a pass, byte for byte: as stored, or else made again.

    Raises
    ------
    DiskError
        If the record contradicts itself, or the stored copy is lost and running the recipe again
        does not give the same bytes.
    """
    one = place.agreed(history, one.number)
    try:
        return place.stored_output(history, one)
    except DiskError as lost:
        try:
            data = run_again(history, one)
        except EvenhandError as error:
            raise DiskError(f"{lost}; and it can't be made again: {error}") from None
        if sha256(data) != one.output:
            raise DiskError(f"{lost}; and {_other_bytes(one)}") from None
        return data


def original_of(history: History, number: int | None = None) -> bytes:
    """The untouched original, byte for byte.

    Parameters
    ----------
    history : History
    number : int, optional
        A pass that goes back to it; needed where takes of one name share the folder.

    Raises
    ------
    DiskError
        If it is lost, or there are several and no pass tells which.
    """
    if number is not None:
        return place.stored_original(history, place.agreed(history, number).original)
    originals = history.originals()
    if not originals:
        raise DiskError(f"{history.folder}: there are no passes on record")
    if len(originals) > 1:
        passes = " or ".join(str(numbers[0]) for numbers in originals.values())
        raise DiskError(
            f"{history.folder} holds {len(originals)} originals (see evenhand passes); "
            f"say the original of which pass: evenhand restore --original-of {passes}"
        )
    for one in history.passes:
        place.agreed(history, one.number)
    return place.stored_original(history, next(iter(originals)))


def verify(history: History) -> Proof:
    """Hold every stored file against its hash, and run every recipe again."""
    return Proof(
        {one.number: tuple(_faults(history, one)) for one in history.passes},
        history.problems + tuple(_left_out(history)),
        tuple(_edited(history)),
    )


def _faults(history: History, one: Pass) -> list[str]:
    checks: list[Callable[[], object]] = [
        partial(place.stored_original, history, one.original),
        partial(place.stored_output, history, one),
        *(partial(place.stored_file, history, one, name) for name in one.files),
        partial(place.agreed, history, one.number),
    ]
    faults = []
    for check in checks:
        try:
            check()
        except DiskError as error:
            faults.append(str(error))
    return faults + _recipe_faults(history, one)


def _recipe_faults(history: History, one: Pass) -> list[str]:
    try:
        if sha256(run_again(history, one)) != one.output:
            return [_other_bytes(one)]
    except EvenhandError as error:
        return [f"the recipe can't be run again: {error}"]
    return []


def _other_bytes(one: Pass) -> str:
    """Why running again may differ; other versions are told apart from a changed recipe."""
    made = f"; it was made by evenhand {one.evenhand}, this is {__version__}"
    return "the stored recipe gives other bytes than were recorded" + (
        made if one.evenhand != __version__ else ""
    )


def _left_out(history: History) -> list[str]:
    return [
        f"{place.INDEX} lacks pass {one.number}; the next pass adds it" for one in history.unlisted
    ]


def _edited(history: History) -> list[str]:
    """The take and the outputs beside the folder, where they are no longer what was recorded."""
    takes: dict[str, set[str]] = {}
    wrote: dict[str, tuple[int, str]] = {}
    for one in history.passes:
        takes.setdefault(one.take, set()).add(one.original)
        wrote[one.wrote] = one.number, one.output
    found = []
    for name, originals in takes.items():
        sha = _sha_beside(history, name)
        if sha and sha not in originals:
            found.append(f"{name} is no longer any original on record")
    for name, (number, output) in wrote.items():
        sha = _sha_beside(history, name)
        if sha and sha != output:
            found.append(f"{name} is no longer what pass {number} wrote")
    return found


def _sha_beside(history: History, name: str) -> str:
    """The hash of a file beside the folder; empty if it is not there or can't be read."""
    if not name or Path(name).name != name:
        return ""
    try:
        return sha256(read_bytes(history.folder.parent / name))
    except DiskError:
        return ""
