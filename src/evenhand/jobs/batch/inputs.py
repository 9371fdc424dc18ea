"""Which takes a batch is about, and what each is called: files, folders and patterns."""

import glob
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path, PurePosixPath

from evenhand.errors import DiskError, SettingError
from evenhand.take import folded, why

SUFFIXES = (".mid", ".midi", ".smf")

#: What a tightened take is called: the name of the take with this before its suffix.
TIGHT = "-tight"

#: What the song is called that the takes of a folder belong to.
SONG = "song.mid"

#: Folders that hold takes of ours: what passes have put on record.
_PASSES = ".passes"


@dataclass(frozen=True, order=True, slots=True)
class Source:
    """One take to be tightened.

    Attributes
    ----------
    name : str
        What it is called: its path inside the input, with `/` between folders.
    path : str
        Where it lies.
    """

    name: str
    path: str = field(compare=False)

    @property
    def output(self) -> str:
        """Its tightened take, as a path inside the output folder."""
        name = PurePosixPath(self.name)
        return str(name.with_name(f"{name.stem}{TIGHT}{name.suffix}"))


@dataclass(frozen=True)
class Inputs:
    """What was found.

    Attributes
    ----------
    takes : list of Source
        In the order of their names, each once.
    left_out : dict of str to str
        What was passed over on purpose, and why.
    unreadable : dict of str to str
        Folders that could not be looked into, and why.
    """

    takes: list[Source] = field(default_factory=list)
    left_out: dict[str, str] = field(default_factory=dict)
    unreadable: dict[str, str] = field(default_factory=dict)


def find_takes(inputs: Sequence[str], output: Path) -> Inputs:
    """Find the takes in files, folders (with all folders in them) and patterns such as `*.mid`.

    A take in a folder is called by its path in that folder; one that was named itself, by its file
    name; one that a pattern finds, by its path behind the part before the first `*`.

    Hidden files, folders of passes, the output folder, links that lead out of a folder or round in
    circles, and takes that were tightened beside their original are left out.

    Parameters
    ----------
    inputs : sequence of str
    output : Path
        Where results go: not an input, where it lies in one.

    Returns
    -------
    Inputs

    Raises
    ------
    DiskError
        If an input is not there, or two takes would have one output.
    """
    found = Inputs()
    for text in inputs:
        path = Path(text)
        if path.is_dir():
            _walk(text, text, "", output, found)
        elif path.exists() or not glob.has_magic(text):
            if not path.is_file():
                raise DiskError(f"{path} is no file and no folder; name takes, or folders of them")
            found.takes.append(Source(path.name, str(path)))
        else:
            _expand(text, output, found)
    takes = _each_once(sorted(found.takes))
    _check_against(takes, output)
    return Inputs(takes, found.left_out, found.unreadable)


def _expand(pattern: str, output: Path, found: Inputs) -> None:
    paths = sorted(glob.glob(pattern, recursive=True))
    if not paths:
        raise DiskError(f"nothing is called {pattern}")
    base = os.path.dirname(re.split(r"[*?[]", pattern)[0]) or "."
    for path in paths:
        name = os.path.relpath(path, base).replace(os.sep, "/")
        if os.path.isdir(path):
            _walk(path, base, name + "/", output, found)
        elif _is_take(path):
            found.takes.append(Source(name, path))


def _each_once(takes: list[Source]) -> list[Source]:
    """The same without repetition; two takes for one output are refused."""
    by_output: dict[str, Source] = {}
    for one in takes:
        other = by_output.setdefault(folded(os.path.splitext(one.output)[0]), one)
        if os.path.realpath(other.path) != os.path.realpath(one.path):
            raise DiskError(
                f"{other.path} and {one.path} would both be written to {other.output} or the files "
                "beside it (capitals and forms of accents don't count, since not all systems tell "
                "them apart); nothing was done. Rename one, or name the folder above both as input"
            )
    return list(by_output.values())


def _check_against(takes: list[Source], output: Path) -> None:
    """Refuse a batch that would write over one of its own takes."""
    paths = {os.path.realpath(one.path): one for one in takes}
    for one in takes:
        path = os.path.realpath(output / one.output)
        if path in paths:
            raise DiskError(
                f"{paths[path].path} is a take of this batch, and where {one.path} would be "
                "written; nothing was done. Name another folder with -o"
            )


def _is_take(path: str) -> bool:
    return os.path.splitext(path)[1].lower() in SUFFIXES


def _walk(folder: str, root: str, name: str, output: Path, found: Inputs) -> None:
    """Take up what lies in a folder and the folders in it."""
    root, result = os.path.realpath(root), os.path.realpath(output)
    linked: set[str] = set()
    open_folders: list[tuple[str, str, tuple[str, ...]]] = [(folder, name, ())]
    while open_folders:
        folder, name, above = open_folders.pop()
        above = (*above, os.path.realpath(folder))
        try:
            with os.scandir(folder) as listing:
                entries = [entry for entry in listing if not entry.name.startswith(".")]
        except OSError as error:
            found.unreadable[name or folder] = f"the folder can't be read: {why(error)}"
            continue
        names = {entry.name for entry in entries}
        for entry in entries:
            is_folder = os.path.isdir(entry.path)
            if not is_folder and not _is_take(entry.name):
                continue
            reason = (
                _bad_link(entry, root, above, linked)
                or (_ours(entry, result) if is_folder else None)
                or (_no_take(entry, names) if not is_folder else None)
            )
            if reason:
                found.left_out[name + entry.name] = reason
            elif is_folder:
                open_folders.append((entry.path, f"{name}{entry.name}/", above))
            else:
                found.takes.append(Source(name + entry.name, entry.path))


def _bad_link(
    entry: os.DirEntry[str], root: str, above: tuple[str, ...], linked: set[str]
) -> str | None:
    """Why a link is not followed, if it is one; `linked` are the folders that links have led to."""
    if not entry.is_symlink():
        return None
    real = os.path.realpath(entry.path)
    if not os.path.exists(real):
        return "a link that leads nowhere"
    if os.path.commonpath([real, root]) != root:
        return "a link that leads out of the input"
    if real in above or real in linked:
        return "a link that leads round in a circle"
    if os.path.isdir(real):
        linked.add(real)
    return None


def _ours(folder: os.DirEntry[str], result: str) -> str | None:
    if folder.name.endswith(_PASSES):
        return "passes on record"
    return "the output folder" if os.path.realpath(folder.path) == result else None


def _no_take(entry: os.DirEntry[str], beside: set[str]) -> str | None:
    stem, suffix = os.path.splitext(entry.name)
    if entry.name == SONG:
        return "the song of the takes beside it"
    if stem.endswith(TIGHT) and stem.removesuffix(TIGHT) + suffix in beside:
        return "tightened already, beside its original"
    return None if os.path.isfile(entry.path) else "no plain file"


def parse_shard(text: str) -> tuple[int, int]:
    """Read a part such as `3/16`: the third of sixteen.

    Raises
    ------
    SettingError
        If it is no such thing.
    """
    match = re.fullmatch(r"([0-9]{1,7})/([0-9]{1,7})", text.strip())
    part, parts = (int(match[1]), int(match[2])) if match else (0, 0)
    if not 1 <= part <= parts:
        raise SettingError(f"{text!r} is not a part such as 3/16, the third of sixteen")
    return part, parts


def in_shard(part: int, parts: int) -> Callable[[Source], bool]:
    """Whether a take belongs to a part: by the SHA-256 of its name, so that it always does."""

    def belongs(one: Source) -> bool:
        digest = sha256(one.name.encode("utf-8", "surrogateescape")).digest()
        return int.from_bytes(digest[:8], "big") % parts == part - 1

    return belongs
