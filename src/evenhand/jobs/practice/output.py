"""What is written: the page and the tables, all of them or none."""

import contextlib
from pathlib import Path

from evenhand.errors import DiskError
from evenhand.jobs.practice.assemble import practice_page
from evenhand.jobs.practice.csv_files import COLUMNS, as_csv, rows_of
from evenhand.jobs.practice.report import Report
from evenhand.take import check_outputs, make_folder, write_files

PAGE = "practice.html"


def file_names() -> list[str]:
    """The names of all files, the page first."""
    return [PAGE, *(f"practice-{name}.csv" for name in COLUMNS)]


def check_output(folder: Path, overwrite: bool) -> None:
    """Refuse a folder that can't take the files, before any work is done.

    Raises
    ------
    DiskError
        If one of them exists (without `overwrite`), or the folder is a file.
    """
    if folder.exists() and not folder.is_dir():
        raise DiskError(f"{folder} is a file; name a folder with -o")
    if folder.is_dir():
        check_outputs([folder / name for name in file_names()], [], overwrite)


def write_output(report: Report, folder: Path, overwrite: bool) -> list[str]:
    """Write everything.

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
    contents = [practice_page(report), *(as_csv(name, rows[name]) for name in COLUMNS)]
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
