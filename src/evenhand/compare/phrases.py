"""A comparison in words: the page and the JSON."""

import math
from dataclasses import asdict
from typing import Any

import numpy as np

from evenhand.columns import Ints
from evenhand.compare.differences import Comparison
from evenhand.compare.sums import Tally, difference_words, tally
from evenhand.paper import Facts, Page, Table, many
from evenhand.take import Position

#: Differences and sections listed on the page; the rest is counted.
SHOWN, SHOWN_SECTIONS = 15, 40

_HEADER = ["same", "moved", "mean ms", "most ms", "velocity", "note", "added", "dropped"]


def comparison_page(names: tuple[str, str], found: Comparison) -> Page:
    """What differs, per section and piece, and the largest differences one by one.

    Parameters
    ----------
    names : two str
        What to call the files.
    found : Comparison
    """
    whole = tally(found, np.zeros(len(found), np.int64), 1)[0]
    pieces, piece = np.unique(found.piece, return_inverse=True)
    sections, section = np.unique(found.section, return_inverse=True)
    labels = [found.sections[index] for index in sections.tolist()]
    parts: list[Facts | Table] = [
        Facts("verdict", [_verdict(whole), *_strangers(found)]),
        _tallies("sections", labels, section.astype(np.int64), found),
        _tallies("pieces", pieces.tolist(), piece.astype(np.int64), found),
    ]
    if len(labels) > SHOWN_SECTIONS:
        more = many(len(labels) - SHOWN_SECTIONS, "section")
        parts.insert(2, Facts("", [f"and {more} more (all with --json)"]))
    if found.differs.any():
        parts += _differences(found)
    return Page(f"{names[0]} and {names[1]}", parts)


def _verdict(whole: Tally) -> str:
    counts = {
        "moved": whole.moved,
        "with another velocity": whole.velocity,
        "on another note": whole.note,
        "added": whole.added,
        "dropped": whole.dropped,
    }
    changed = ", ".join(f"{count} {name}" for name, count in counts.items() if count)
    if not changed:
        return f"the same performance to half a tick: {many(whole.same, 'hit')}"
    return f"they differ: {changed}; {whole.same} the same"


def _strangers(found: Comparison) -> list[str]:
    """A doubt where most hits of the shorter file have no partner."""
    paired, alone = int(found.paired.sum()), (int(found.added.sum()), int(found.dropped.sum()))
    if paired >= min(alone):
        return []
    return [
        f"only {many(paired, 'hit')} found a partner: are these files of one performance, "
        "and do they begin at the same place? See --within"
    ]


def _tallies(label: str, names: list[str], group: Ints, found: Comparison) -> Table:
    rows = [
        [
            name,
            str(one.same),
            str(one.moved),
            f"{one.mean_ms:+.1f}" if one.moved else "-",
            f"{one.most_ms:.1f}" if one.moved else "-",
            *map(str, (one.velocity, one.note, one.added, one.dropped)),
        ]
        for name, one in zip(names, tally(found, group, len(names)), strict=True)
    ]
    one = label.removesuffix("s")
    return Table(label, [one, *_HEADER], rows[:SHOWN_SECTIONS], left=[one])


def _differences(found: Comparison) -> list[Facts | Table]:
    """The differences worth a look first: added and dropped hits, then the largest moves."""
    alone = (found.added | found.dropped).astype(np.int64)
    shift, louder = (np.nan_to_num(np.abs(column)) for column in (found.shift, found.louder))
    order = np.lexsort((-louder, -shift, -alone, ~found.differs))
    shown = np.sort(order[: min(SHOWN, int(found.differs.sum()))])
    words = difference_words(found)
    rows = [
        [
            str(Position(int(found.bar[row]), float(found.beat[row]))),
            str(found.piece[row]),
            words[row],
            _signed(float(found.shift[row]), 1),
            _change(found.velocity[:, row].tolist()),
            _change(found.note[:, row].tolist()),
        ]
        for row in shown.tolist()
    ]
    header = ["place", "piece", "difference", "ms", "velocity", "note"]
    table = Table("largest", header, rows, left=["place", "piece", "difference"])
    more = int(found.differs.sum()) - len(rows)
    return [table, *([Facts("", [f"and {more} more (all with --csv)"])] if more else [])]


def _signed(value: float, places: int) -> str:
    return "" if math.isnan(value) else f"{value:+.{places}f}"


def _change(values: list[float]) -> str:
    """`96`, or `96 → 101`; one that is missing is left out."""
    there = [f"{value:.0f}" for value in values if not math.isnan(value)]
    return " → ".join(dict.fromkeys(there))


def comparison_json(names: tuple[str, str], found: Comparison) -> dict[str, Any]:
    """The same as plain values: the whole, and each section with its pieces."""
    pieces, piece = np.unique(found.piece, return_inverse=True)
    keys, group = np.unique(found.section * len(pieces) + piece, return_inverse=True)
    sections: dict[int, dict[str, Any]] = {}
    for key, one in zip(keys.tolist(), tally(found, group, len(keys)), strict=True):
        section, name = divmod(key, len(pieces))
        entry = sections.setdefault(section, {"section": found.sections[section], "pieces": {}})
        entry["pieces"][str(pieces[name])] = asdict(one)
    whole = tally(found, np.zeros(len(found), np.int64), 1)[0]
    return {
        "a": names[0],
        "b": names[1],
        "same": not bool(found.differs.any()),
        "all": asdict(whole),
        "sections": list(sections.values()),
    }
