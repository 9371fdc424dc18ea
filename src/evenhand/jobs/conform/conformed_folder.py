"""The folder of conformed files: checked before any work, and there whole or not at all."""

import os
import shutil
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import FIRST_EXCEPTION, Executor, wait
from pathlib import Path

from evenhand.errors import DiskError
from evenhand.jobs.conform.microphone import Microphone
from evenhand.jobs.conform.splices import Splice
from evenhand.jobs.conform.weave import write_conformed
from evenhand.take import check_folder, new_folder, why

EDITS, APART, PAGE = "edits.csv", "apart.csv", "conform.html"
MARKERS, MARKERS_CSV = "conform.markers.mid", "conform.markers.csv"
_OURS = (EDITS, APART, PAGE, MARKERS, MARKERS_CSV)

#: Room for the lists and the page, bytes.
_SPARE = 32 << 20


def check_names(paths: Sequence[Path]) -> None:
    """Refuse files that can't lie in one folder beside our lists.

    Raises
    ------
    DiskError
        If two have one name, or one is called like a list of ours.
    """
    names: dict[str, Path] = {}
    for path in paths:
        key = path.name.casefold()
        if key in names:
            raise DiskError(
                f"{names[key]} and {path} have one name, and the new files keep their names; "
                "rename one of them"
            )
        if key in _OURS:
            raise DiskError(f"{path} is called like a list that is written beside it; rename it")
        names[key] = path


def check_delivery(paths: Sequence[Path], folder: Path, overwrite: bool) -> None:
    """Refuse a folder that can't hold the new files, before any work is done.

    Raises
    ------
    DiskError
        If the folder holds an input or anything else, or the disk is too small.
    """
    for path in paths:
        if Path(os.path.realpath(path)).parent == Path(os.path.realpath(folder)):
            raise DiskError(f"{path} lies in {folder} itself; name a new folder with -o")
    ours = {path.name for path in paths} | set(_OURS)
    check_folder(folder, lambda name: name in ours, overwrite)
    try:
        # A FLAC file is there twice while its blocks are put ahead of it.
        sizes = [path.stat().st_size * (1 + (path.suffix.lower() == ".flac")) for path in paths]
        need = sum(sizes) + _SPARE
        free = shutil.disk_usage(folder.parent).free
    except OSError as error:
        raise DiskError(f"{folder} can't be written: {why(error)}") from error
    if need > free:
        raise DiskError(
            f"{folder} needs {need / 1e6:.0f} MB and the disk has {free / 1e6:.0f} MB left; "
            "make room, or name a folder on another disk"
        )


def deliver(
    microphones: Sequence[Microphone],
    splices: Sequence[Splice],
    lists: Mapping[str, bytes],
    folder: Path,
    overwrite: bool,
    pool: Executor,
    tell: Callable[[], object],
) -> list[str]:
    """Write all files and lists; they appear together.

    Parameters
    ----------
    microphones : sequence of Microphone
        Open.
    splices : sequence of Splice
    lists : mapping of str to bytes
        What else goes into the folder.
    folder : Path
        See `check_delivery`.
    overwrite : bool
    pool : Executor
    tell : callable
        Called as each file is done.

    Returns
    -------
    list of str
        The names of the files.
    """
    with new_folder(folder, overwrite) as work:

        def write(one: Microphone) -> None:
            write_conformed(one, splices, work / one.path.name)
            tell()

        writing = [pool.submit(write, one) for one in microphones]
        try:
            done, _ = wait(writing, return_when=FIRST_EXCEPTION)
            for one in done:
                one.result()
        except BaseException:
            # The folder goes once nobody writes into it any more.
            for one in writing:
                one.cancel()
            wait(writing)
            raise
        for name, content in lists.items():
            (work / name).write_bytes(content)
    return [*(one.path.name for one in microphones), *lists]
