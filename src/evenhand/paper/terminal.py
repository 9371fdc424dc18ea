"""A page of words and tables for the terminal: in colour there, plain text in a pipe."""

import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TextIO

#: Width of the column of labels at the left.
_LABEL = 10


@dataclass(frozen=True)
class Facts:
    """Lines of text behind a label."""

    label: str
    lines: Sequence[str]


@dataclass(frozen=True)
class Table:
    """Rows under a header; columns named in `left` are text, the others numbers."""

    label: str
    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    left: Sequence[str] = ()


@dataclass(frozen=True)
class Page:
    """A title and what stands under it."""

    title: str
    parts: Sequence[Facts | Table] = field(default_factory=tuple)


def show(page: Page, stream: TextIO | None = None) -> None:
    """Print a page: with rich on a terminal, as plain aligned text elsewhere."""
    stream = stream or sys.stdout
    if stream.isatty():
        _show_rich(page, stream)
    else:
        stream.write(plain(page))
        stream.flush()


def plain(page: Page) -> str:
    """The page as plain text; columns are parted by two spaces or more."""
    lines = [printable(page.title)]
    for part in page.parts:
        inner = part.lines if isinstance(part, Facts) else _aligned(part)
        for number, line in enumerate(inner):
            label = printable(part.label) if not number else ""
            lines.append(f"  {label:<{_LABEL}}{printable(line)}".rstrip())
    return "\n".join(lines) + "\n"


def _aligned(table: Table) -> list[str]:
    rows = [list(table.header), *map(list, table.rows)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.header))]
    lines = []
    for row in rows:
        cells = [
            f"{cell:<{width}}" if name in table.left else f"{cell:>{width}}"
            for cell, width, name in zip(row, widths, table.header, strict=True)
        ]
        lines.append("  ".join(cells))
    return lines


def printable(text: str) -> str:
    """Text from a file with control characters shown, so that it can't steer a terminal."""
    return "".join(char if char.isprintable() else repr(char)[1:-1] for char in text)


def _show_rich(page: Page, stream: TextIO) -> None:
    from rich.console import Console
    from rich.padding import Padding
    from rich.table import Table as RichTable
    from rich.text import Text

    console = Console(file=stream, highlight=False)
    console.print(Text(printable(page.title), style="bold"))
    for part in page.parts:
        grid = RichTable.grid(padding=(0, 1))
        grid.add_column(width=_LABEL, style="dim")
        grid.add_column()
        if isinstance(part, Facts):
            inner: Text | RichTable = Text("\n".join(map(printable, part.lines)))
        else:
            inner = RichTable(box=None, padding=(0, 2, 0, 0), header_style="dim")
            for name in part.header:
                inner.add_column(
                    Text(printable(name)), justify="left" if name in part.left else "right"
                )
            for row in part.rows:
                inner.add_row(*[Text(printable(cell)) for cell in row])
        grid.add_row(Text(printable(part.label)), inner)
        console.print(Padding(grid, (0, 0, 0, 2)))
