"""Gathering: the takes in some folders, in one order, each once."""

import datetime as dt
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from evenhand.errors import DiskError
from evenhand.jobs.batch import SUFFIXES
from evenhand.jobs.practice.dates import Said, read_said, when_played

#: What evenhand writes beside a take is not another take.
_MADE = ("-tight", "-fitted")
_MADE_FOLDER = ".passes"


@dataclass(frozen=True)
class Found:
    """A take that was found.

    Attributes
    ----------
    path : Path
    name : str
        What to call it.
    when : datetime
    source : str
        How that is known (see `evenhand.jobs.practice.dates.when_played`).
    """

    path: Path
    name: str
    when: dt.datetime
    source: str


@dataclass(frozen=True)
class Gathered:
    """All that was found.

    Attributes
    ----------
    takes : tuple of Found
        In the order in which they were played; of one moment, by name.
    closed : tuple of (str, str)
        Folders that can't be looked into, and why.
    made : int
        Files that evenhand made itself, left out.
    """

    takes: tuple[Found, ...]
    closed: tuple[tuple[str, str], ...]
    made: int


def gather(folders: list[Path], since: dt.date | None = None) -> Gathered:
    """Find the takes in some folders and below them.

    Links to files are read, links to folders are not followed; hidden folders, and what evenhand
    wrote beside a take, are left out.

    Parameters
    ----------
    folders : list of Path
    since : date, optional
        Leave out what was played before this day.

    Raises
    ------
    DiskError
        If one can't be read, or there is no take in any.
    SettingError
        If a `practice.toml` makes no sense.
    """
    takes: dict[tuple[int, int], Found] = {}
    closed: list[tuple[str, str]] = []
    made = 0
    for folder in folders:
        _check(folder)
        said = read_said(folder)
        for path in _files(folder, closed):
            if path.stem.endswith(_MADE) and _original(path):
                made += 1
                continue
            try:
                there = path.stat()
                found = _found(folder, path, said, there.st_mtime, len(folders) > 1)
            except (OSError, DiskError) as error:
                closed.append((_inside(folder, path), _why(error)))
                continue
            # One file may be reached in two ways.
            takes.setdefault((there.st_dev, there.st_ino), found)
    if not takes:
        where = ", ".join(map(str, folders))
        raise DiskError(f"there are no takes ({', '.join(SUFFIXES)}) in {where}")
    chosen = [take for take in takes.values() if since is None or take.when.date() >= since]
    if not chosen:
        last = max(take.when for take in takes.values()).date()
        raise DiskError(f"none of {len(takes)} takes was played since {since}; the last on {last}")
    chosen.sort(key=lambda take: (take.when, take.name))
    return Gathered(tuple(chosen), tuple(closed), made)


def _check(folder: Path) -> None:
    try:
        if folder.is_file():
            raise DiskError(f"{folder} is a file; name the folder that it lies in")
        if not folder.exists():
            raise DiskError(f"there is no folder {folder}")
        with os.scandir(folder):
            return
    except OSError as error:
        raise DiskError(f"{folder} can't be read: {_why(error)}") from error


def _files(folder: Path, closed: list[tuple[str, str]]) -> Iterator[Path]:
    def refuse(error: OSError) -> None:
        closed.append((_inside(folder, Path(error.filename)), _why(error)))

    for place, inner, names in os.walk(folder, onerror=refuse):
        inner[:] = sorted(
            one for one in inner if not one.startswith(".") and not one.endswith(_MADE_FOLDER)
        )
        for name in sorted(names):
            if name.lower().endswith(SUFFIXES) and not name.startswith("."):
                yield Path(place) / name


def _original(path: Path) -> bool:
    """Whether the take that this was made from lies beside it."""
    stem = path.stem
    for mark in _MADE * 2:
        stem = stem.removesuffix(mark)
    return path.with_name(stem + path.suffix).exists()


def _found(folder: Path, path: Path, said: Said, modified: float, several: bool) -> Found:
    inside = _inside(folder, path)
    when, source = when_played(inside, said, modified)
    plain = f"{folder.name or folder}/{inside}" if several else inside
    return Found(path, said.names.get(inside, plain), when, source)


def _inside(folder: Path, path: Path) -> str:
    return path.relative_to(folder).as_posix()


def _why(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else "") or str(error)
