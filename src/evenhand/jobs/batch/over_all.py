"""The tables over all takes: `batch.csv` and `batch.html`, in the order of the takes' names.

Rows come in any order and wait on disk, so that memory does not grow with them.
"""

import io
import json
from array import array
from collections.abc import Iterable, Iterator
from pathlib import Path

from evenhand.errors import DiskError
from evenhand.jobs.batch.rows import COLUMNS, Row
from evenhand.paper import csv_lines
from evenhand.take import why

_MISSING = -1


class Spool:
    """Rows on disk, found again by number.

    Parameters
    ----------
    path : Path
        A file of its own.
    rows : int
        How many there will be.
    """

    def __init__(self, path: Path, rows: int) -> None:
        self._path = path
        self._file = path.open("w+b")
        self._begins = array("q", [_MISSING]) * rows

    def __enter__(self) -> "Spool":
        return self

    def __exit__(self, *error: object) -> None:
        self._file.close()

    def put(self, number: int, row: Row) -> None:
        """Keep a row."""
        self._begins[number] = self._file.seek(0, io.SEEK_END)
        try:
            self._file.write(json.dumps(list(row.values())).encode() + b"\n")
            self._file.flush()
        except OSError as error:
            raise DiskError(f"{self._path} can't be written: {why(error)}") from error

    def __iter__(self) -> Iterator[Row]:
        """The rows that were put, by their numbers."""
        for begin in self._begins:
            if begin != _MISSING:
                self._file.seek(begin)
                yield dict(zip(COLUMNS, json.loads(self._file.readline()), strict=True))


def write_csv(rows: Iterable[Row], path: Path) -> None:
    """Write the rows as CSV: UTF-8, `.` decimals, empty where there is nothing."""
    with path.open("wb") as file:
        cells = ([_cell(value) for value in row.values()] for row in rows)
        file.writelines(csv_lines(COLUMNS, cells))


def _cell(value: str | int | float | None) -> str | int:
    if value is None:
        return ""
    return f"{value:.3f}".rstrip("0").rstrip(".") if isinstance(value, float) else value
