"""The page over all takes: `batch.html`, a table that sorts."""

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from urllib.parse import quote

from evenhand.jobs.batch.listening import page_beside
from evenhand.jobs.batch.rows import IN_ORDER, Row
from evenhand.paper import many, printable
from evenhand.web import one_file

#: What the page has at its beginning, and other pages have not.
MARK = '<meta name="generator" content="evenhand batch">'

#: Rows beyond this stand in the CSV only: a browser gets slow.
MOST_ROWS = 5000

#: The columns of numbers: heading, name in the row, decimals, unit.
_NUMBERS = (
    ("bpm", "bpm", 1, ""),
    ("of the hits", "bpm_of_hits", 1, ""),
    ("offset ms", "offset_ms", 0, ""),
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


def write_page(rows: Iterable[Row], folder: Path, path: Path) -> None:
    """Write the page; it reaches no network, and shows names from files as text.

    Parameters
    ----------
    rows : iterable of Row
    folder : Path
        Where the results lie: a take links to its listening page if there is one.
    path : Path
    """
    done = failed = moved = hits = 0
    lines, reasons = [], []
    for row in rows:
        if row["state"] == IN_ORDER:
            done += 1
            moved, hits = moved + int(row["moved"] or 0), hits + int(row["hits"] or 0)
            if done <= MOST_ROWS:
                lines.append(_line(row, folder))
        else:
            failed += 1
            if failed <= MOST_ROWS:
                reasons.append({name: printable(str(row[name])) for name in ("take", "reason")})
    words = {
        "title": f"{many(done, 'take')} tightened" + (f", {failed} failed" if failed else ""),
        "facts": f"{moved} of {many(hits, 'hit')} moved",
        "failed": reasons,
        "more_failed": failed - len(reasons),
        "headings": [heading for heading, *_ in _NUMBERS],
        "rows": lines,
        "more": done - len(lines),
    }
    path.write_bytes(one_file("jobs/batch", words=words, charts=False))


def _line(row: Row, folder: Path) -> dict[str, Any]:
    """A row as the template writes it: texts, links, numbers as they sort and as they show."""
    numbers = []
    for _, name, places, unit in _NUMBERS:
        value = row[name]
        shown = "-" if value is None else f"{value:.{places}f}{unit}"
        numbers.append(("" if value is None else value, shown))
    texts = {name: printable(str(row[name])) for name in ("take", "grid", "first_flag")}
    links = [(what, _link(row[what])) for what in ("tightened", "changes", "record")]
    page = page_beside(Path(str(row["tightened"])))
    if (folder / page).is_file():
        links.insert(0, ("listen", _link(page.as_posix())))
    return {**texts, "links": links, "numbers": numbers}


def _link(path: object) -> str:
    return quote(os.fsencode(str(path)))
