"""Tables as CSV: one writer for all of them but the change log, which is made by columns.

References
----------
RFC 4180, "Common Format and MIME Type for Comma-Separated Values (CSV) Files" (quoting).
OWASP, "CSV Injection": text that begins like a formula is run by spreadsheets (from memory).
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence

from evenhand.paper.terminal import printable

#: What a spreadsheet takes for the beginning of a formula; tabs and returns are written escaped.
_FORMULA = ("=", "+", "-", "@")
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """A table as the bytes of a file: UTF-8, a header, a line for each row.

    Parameters
    ----------
    header : sequence of str
    rows : iterable of sequence
        Their cells: text (see `cell`), whole numbers, None for nothing. Decimals are text, written
        with as many places as their column has.
    """
    return b"".join(csv_lines(header, rows))


def csv_lines(header: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[bytes]:
    """The same line by line, for tables that are too long to be held in memory."""
    line = io.StringIO()
    writer = csv.writer(line, lineterminator="\n")
    writer.writerow(header)
    for row in rows:
        yield line.getvalue().encode()
        line.seek(0)
        line.truncate()
        writer.writerow([cell(value) for value in row])
    yield line.getvalue().encode()


def cell(value: object) -> str:
    """A cell; text from a file does nothing in a spreadsheet but stand there.

    Control characters and what is no text are escaped; an apostrophe stands before what begins
    like a formula and is no number.

    Examples
    --------
    >>> cell("=1+1"), cell("-12.5"), cell("chorus")
    ("'=1+1", '-12.5', 'chorus')
    """
    if value is None:
        return ""
    text = printable(str(value))
    if text.startswith(_FORMULA) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text
