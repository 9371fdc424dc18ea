"""What is written: the page and the tables, all of them or none."""

import contextlib
from collections.abc import Mapping
from pathlib import Path

from evenhand.errors import DiskError, EvenhandError
from evenhand.jobs.practice.assemble import practice_page
from evenhand.jobs.practice.csv_files import COLUMNS, as_csv, rows_of
from evenhand.jobs.practice.report import Report
from evenhand.listen import listening_page
from evenhand.recipe import Recipe
from evenhand.take import Take, check_outputs, make_folder, read_bytes, write_files

PAGE = "practice.html"

#: The folder of the listening pages, beside the page.
LISTENING = "practice-listen"


def file_names() -> list[str]:
    """The names of all files, the page first."""
    return [PAGE, *(f"practice-{name}.csv" for name in COLUMNS)]


def check_output(folder: Path, overwrite: bool, listen: bool = False) -> None:
    """Refuse a folder that can't take the files, before any work is done.

    Raises
    ------
    DiskError
        If one of them exists (without `overwrite`), or the folder is a file.
    """
    if folder.exists() and not folder.is_dir():
        raise DiskError(f"{folder} is a file; name a folder with -o")
    if folder.is_dir():
        names = [*file_names(), *([LISTENING] if listen and not overwrite else [])]
        check_outputs([folder / name for name in names], [], overwrite)


def write_listening(
    report: Report, folder: Path, recipe: Recipe, overwrite: bool
) -> dict[int, str]:
    """Write a listening page for each take that has figures.

    Parameters
    ----------
    report : Report
    folder : Path
        Where the page over all takes goes.
    recipe : Recipe
    overwrite : bool

    Returns
    -------
    dict of int to str
        The page of a take, seen from there, by the take's place in the report. A take that can't be
        tightened has none.

    Raises
    ------
    DiskError
        If one can't be written; what is written stays.
    """
    make_folder(folder / LISTENING)
    pages = {}
    for index, one in enumerate(report.played):
        if one.figures is None:
            continue
        take = Take.from_bytes(read_bytes(one.found.path), one.found.name)
        try:
            page = listening_page(take, recipe, str(one.found.path))
        except EvenhandError:
            continue
        pages[index] = f"{LISTENING}/{index + 1:04d}.html"
        write_files({folder / pages[index]: page}, overwrite)
    return pages


def write_output(
    report: Report, folder: Path, overwrite: bool, pages: Mapping[int, str] | None = None
) -> list[str]:
    """Write everything; `pages` are the listening pages that are there already.

    Returns
    -------
    list of str
        The paths of the files.

    Raises
    ------
    DiskError
        If something can't be written; then nothing is.
    """
    rows = rows_of(report)
    contents = [practice_page(report, pages or {}), *(as_csv(name, rows[name]) for name in COLUMNS)]
    files = dict(zip([folder / name for name in file_names()], contents, strict=True))
    new = not folder.exists()
    make_folder(folder)
    try:
        write_files(files, overwrite)
    except BaseException:
        if new:
            with contextlib.suppress(OSError):
                folder.rmdir()
        raise
    return [str(path) for path in files]
