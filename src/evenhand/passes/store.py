"""The folder of passes on disk: finding it, reading it, getting bytes back out of it.

`take.passes/` holds `passes.jsonl` (the index), `originals/<sha256>.mid`, and one numbered folder
per pass. A pass is there once its numbered folder is, which appears whole by one rename; its line
in the index is a copy of the `pass.json` in there, so a line that is missing (a crash between the
two) is read from there, and the next recording adds it.
"""

import hashlib
import json
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from evenhand.errors import DiskError
from evenhand.passes.entry import ORIGINAL, Pass, as_line, from_line, read_line
from evenhand.passes.inside import read_inside

SUFFIX = ".passes"
INDEX, ORIGINALS, ABOUT, OUTPUT = "passes.jsonl", "originals", "pass.json", "output.mid"

_NUMBERED = re.compile(r"[0-9]{4,6}")


@dataclass(frozen=True)
class History:
    """What a folder of passes tells.

    Attributes
    ----------
    folder : Path
    passes : tuple of Pass
        In the order of their numbers.
    unlisted : tuple of Pass
        Those among them that the index lacks.
    problems : tuple of str
        What could not be read, in plain sentences.
    """

    folder: Path
    passes: tuple[Pass, ...]
    unlisted: tuple[Pass, ...]
    problems: tuple[str, ...]

    def get(self, number: int) -> Pass:
        """The pass with this number.

        Raises
        ------
        DiskError
            If there is none.
        """
        for one in self.passes:
            if one.number == number:
                return one
        there = ", ".join(str(one.number) for one in self.passes[:20]) or "none"
        more = f" and {len(self.passes) - 20} more" if len(self.passes) > 20 else ""
        raise DiskError(f"{self.folder}: there is no pass {number}; there are: {there}{more}")

    def originals(self) -> dict[str, list[int]]:
        """The hash of each original, with the numbers of the passes that go back to it."""
        found: dict[str, list[int]] = {}
        for one in self.passes:
            found.setdefault(one.original, []).append(one.number)
        return found


def folder_beside(output: Path, stem: str) -> Path:
    """Where passes of a take are recorded: beside the output, named after the take's stem."""
    return output.parent / (stem + SUFFIX)


def find_folder(name: str) -> Path:
    """The folder of passes of a take, which need not be there any more, or the folder itself.

    Raises
    ------
    DiskError
        If there is none; the message says where else to look.
    """
    path = Path(name)
    if path.is_dir():
        if path.resolve().name.endswith(SUFFIX):
            return path
        raise DiskError(f"{path} is a folder; name a take, or a folder TAKE{SUFFIX}")
    folder = folder_beside(path, path.stem)
    if folder.is_dir():
        return folder
    others = sorted(other.name for other in _listed(path.parent) if other.name.endswith(SUFFIX))
    hint = f"; there are {', '.join(others[:5])}" if others else ""
    raise DiskError(
        f"no passes of {path} on record: there is no {folder}{hint}. They lie beside the output of "
        "tighten; give that folder's name instead of the take's"
    )


def read_history(folder: Path) -> History:
    """Read all passes: the lines of the index, and what the index lacks from the numbered folders.

    Raises
    ------
    DiskError
        If the folder can't be read.
    """
    if not folder.is_dir():
        raise DiskError(f"there is no folder {folder}, so no passes are on record there")
    found: dict[int, Pass] = {}
    problems = []
    for place, line in index_lines(folder):
        try:
            one = read_line(line)
        except DiskError as error:
            problems.append(f"{INDEX}, line {place}, can't be read: {error}")
            continue
        if one.number in found and found[one.number] != one:
            problems.append(f"{INDEX}, line {place}, tells otherwise of pass {one.number}")
        found.setdefault(one.number, one)
    listed = set(found)
    for number in numbered_folders(folder):
        if number not in listed:
            try:
                found[number] = read_about(folder, number)
            except DiskError as error:
                problems.append(str(error))
    passes = tuple(found[number] for number in sorted(found))
    unlisted = tuple(one for one in passes if one.number not in listed)
    return History(folder, passes, unlisted, tuple(problems))


def index_lines(folder: Path) -> Iterator[tuple[int, bytes]]:
    """Each line of the index with its number; one that was cut short at the end is left out."""
    if not os.path.lexists(folder / INDEX):
        return
    *lines, last = read_inside(folder, INDEX).split(b"\n")
    for place, line in enumerate(lines, 1):
        if line.strip():
            yield place, line
    if is_whole(last):
        yield len(lines) + 1, last


def is_whole(last: bytes) -> bool:
    """Whether the bytes behind the last line end are a whole line, or only the beginning of one.

    An editor may leave the last line end out; half an object is never an object.
    """
    try:
        return isinstance(json.loads(last), dict)
    except (ValueError, RecursionError):
        return False


def numbered_folders(folder: Path) -> list[int]:
    """The numbers for which there is a folder of files."""
    return sorted(
        int(path.name)
        for path in _listed(folder)
        if _NUMBERED.fullmatch(path.name) and int(path.name) and _is_folder(path)
    )


def _is_folder(path: Path) -> bool:
    return path.is_dir() and not path.is_symlink()


def read_about(folder: Path, number: int) -> Pass:
    """The pass as its own folder tells it."""
    path = folder / f"{number:04d}" / ABOUT
    try:
        about = from_line(parsed_json(read_inside(folder, path.parent.name, ABOUT)))
    except DiskError as error:
        raise DiskError(f"{path} can't be used: {error}") from None
    if about.number != number:
        raise DiskError(f"{path} can't be used: it tells of pass {about.number}")
    return about


def parsed_json(data: bytes) -> object:
    """What a JSON file tells."""
    try:
        return json.loads(data)
    except (ValueError, RecursionError):
        raise DiskError("it is not JSON") from None


def read_file(history: History, one: Pass, name: str) -> bytes:
    """One of the files of a pass, whatever is in it (raises `DiskError`)."""
    return read_inside(history.folder, one.folder, name)


def sha256(data: bytes) -> str:
    """The SHA-256 as hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def original_name(sha: str) -> str:
    """What an original is called in its folder."""
    return f"{sha}.mid"


def read_original(folder: Path, sha: str) -> bytes:
    """A kept original, whatever is in it (raises `DiskError`)."""
    return read_inside(folder, ORIGINALS, original_name(sha))


def agreed(history: History, number: int) -> Pass:
    """A pass of which the index, its own folder and its neighbours tell the same.

    Raises
    ------
    DiskError
        If there is none, or they tell different things; the message says which.
    """
    one = history.get(number)
    here = f"{history.folder / one.folder / ABOUT}"
    lines = as_line(one), as_line(read_about(history.folder, number))
    differ = [key for key in lines[0] if lines[0][key] != lines[1][key]]
    if differ:
        raise DiskError(
            f"{here} and {INDEX} tell different things of pass {number} ({', '.join(differ)}): one "
            "was changed, and nothing tells which is right"
        )
    if one.start == ORIGINAL:
        fits = one.input == one.original
    else:
        before = history.get(one.start)
        fits = (one.input, one.original) == (before.output, before.original)
    if not fits:
        raise DiskError(
            f"{here} was changed: what pass {number} read is not what pass {one.start} "
            f"{'was' if one.start == ORIGINAL else 'wrote'}"
        )
    return one


def stored_original(history: History, sha: str) -> bytes:
    """An untouched original.

    Raises
    ------
    DiskError
        If it is missing or not what was recorded.
    """
    return _checked(history, sha, ORIGINALS, original_name(sha))


def stored_output(history: History, one: Pass) -> bytes:
    """The stored output of a pass (raises as `stored_original`)."""
    return _checked(history, one.output, one.folder, OUTPUT)


def stored_file(history: History, one: Pass, name: str) -> bytes:
    """Another file of a pass (raises as `stored_original`)."""
    return _checked(history, one.files.get(name, ""), one.folder, name)


def stored_input(history: History, one: Pass) -> bytes:
    """What a pass read: its original, or the output of the pass it started from."""
    if one.start == ORIGINAL:
        return stored_original(history, one.input)
    return _checked(history, one.input, history.get(one.start).folder, OUTPUT)


def _checked(history: History, sha: str, *names: str) -> bytes:
    data = read_inside(history.folder, *names)
    if sha256(data) != sha:
        path = history.folder.joinpath(*names)
        raise DiskError(f"{path} was changed since it was recorded")
    return data


def _listed(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError as error:
        raise DiskError(f"{folder} can't be read: {error.strerror}") from error
