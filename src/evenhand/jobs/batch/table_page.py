"""The page over all takes: `batch.html`, a table that sorts."""

import os
from collections.abc import Iterable
from html import escape
from importlib.resources import files
from pathlib import Path
from urllib.parse import quote

from evenhand import __version__
from evenhand.jobs.batch.rows import IN_ORDER, Row
from evenhand.paper import many, printable
from evenhand.web import common_style, content_policy, fill

#: What the page has at its beginning, and other pages have not.
MARK = '<meta name="generator" content="evenhand batch">'

#: Rows beyond this stand in the CSV only: a browser gets slow.
MOST_ROWS = 5000

#: The columns of numbers: heading, name in the row, decimals, unit.
_NUMBERS = (
    ("bpm", "bpm", 1, ""),
    ("bars", "bars", 0, ""),
    ("hits", "hits", 0, ""),
    ("moved", "moved", 0, ""),
    ("largest ms", "largest_move_ms", 1, ""),
    ("mean ms", "mean_before_ms", 1, ""),
    ("after", "mean_after_ms", 1, ""),
    ("spread ms", "spread_before_ms", 1, ""),
    ("after", "spread_after_ms", 1, ""),
    ("in window", "inside_before", 0, " %"),
    ("after", "inside_after", 0, " %"),
    ("flags", "flags", 0, ""),
)


def write_page(rows: Iterable[Row], path: Path) -> None:
    """Write the page; it reaches no network, and shows names from files as text."""
    done = failed = moved = hits = 0
    lines, reasons = [], []
    for row in rows:
        if row["state"] == IN_ORDER:
            done += 1
            moved, hits = moved + int(row["moved"] or 0), hits + int(row["hits"] or 0)
            if done <= MOST_ROWS:
                lines.append(_line(row))
        else:
            failed += 1
            if failed <= MOST_ROWS:
                reasons.append(_reason(row))
    style, script = common_style() + _file("page.css"), _file("page.js")
    parts = {
        "POLICY": content_policy([script], style),
        "STYLE": style,
        "TITLE": f"{many(done, 'take')} tightened" + (f", {failed} failed" if failed else ""),
        "FACTS": f"{moved} of {many(hits, 'hit')} moved",
        "FAILED": _failed(reasons, failed),
        "HEAD": _head(),
        "ROWS": "\n".join(lines),
        "MORE": f"<p>And {done - MOST_ROWS} more in the CSV file.</p>" if done > MOST_ROWS else "",
        "VERSION": __version__,
        "SCRIPT": script,
    }
    path.write_text(fill(_file("page.html"), parts), encoding="utf-8", errors="replace")


def _head() -> str:
    numbers = [f'<th scope="col">{heading}</th>' for heading, *_ in _NUMBERS]
    words = ['<th scope="col" class="text">' + word + "</th>" for word in ("grid", "listen to")]
    return '<th scope="col" class="text">take</th>' + "".join([*numbers, *words])


def _line(row: Row) -> str:
    links = ((row[what], what) for what in ("tightened", "changes", "record"))
    cells = [
        f'<tr><th scope="row" data-value="{_text(row["take"])}">{_text(row["take"])}<span>'
        + " ".join(f'<a href="{_link(path)}">{what}</a>' for path, what in links)
        + "</span></th>"
    ]
    for _, name, places, unit in _NUMBERS:
        value = row[name]
        shown = "-" if value is None else f"{value:.{places}f}{unit}"
        cells.append(f'<td data-value="{"" if value is None else value}">{shown}</td>')
    for name, kind in (("grid", "text"), ("first_flag", "wide")):
        cells.append(f'<td class="{kind}" data-value="{_text(row[name])}">{_text(row[name])}</td>')
    return "".join([*cells, "</tr>"])


def _failed(reasons: list[str], failed: int) -> str:
    if not failed:
        return ""
    more = f"<p>And {failed - len(reasons)} more in the CSV file.</p>" if reasons else ""
    return (
        '<section id="failed" aria-labelledby="h-failed"><h2 id="h-failed">Not done</h2><ul>'
        + "".join(reasons)
        + "</ul>"
        + (more if failed > len(reasons) else "")
        + "</section>"
    )


def _reason(row: Row) -> str:
    return f"<li><strong>{_text(row['take'])}</strong>: {_text(row['reason'])}</li>"


def _text(value: object) -> str:
    return escape(printable(str(value)))


def _link(path: object) -> str:
    return quote(os.fsencode(str(path)))


def _file(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")
