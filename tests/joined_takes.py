"""Real grooves and fills of one drummer and tempo, joined end to end, with the fills known.

Works on a folder with `takes.csv` (columns file, drummer, style, bpm, beat_type beat/fill,
time_signature), such as a part of the Groove MIDI Dataset.
"""

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evenhand import Recipe, read_take
from evenhand.columns import Floats, Words
from evenhand.ground.prepare import prepare

#: Bars of groove between fills.
GROOVE_BARS = 8


@dataclass
class Joined:
    """Hits on a common clock of 480 ticks per quarter, 4/4, and which half-bars are fills."""

    name: str
    tick: Floats
    piece: Words
    role: Words
    fill: list[bool]


@dataclass
class _Part:
    row: dict[str, str]
    tick: Floats
    piece: Words
    role: Words
    bars: int


def _read(folder: Path, row: dict[str, str]) -> _Part:
    ground = prepare(read_take(folder / row["file"]), Recipe(grid="1/16", sections="none"))
    tick = ground.tick * 480 / ground.take.division
    whole = ground.take.end / ground.take.division / 4
    bars = max(1, round(tick.max() / 1920 + 0.1)) if row["beat_type"] == "fill" else int(whole)
    return _Part(row, tick, ground.hits.piece, ground.hits.role, bars)


def joined_takes(folder: Path) -> list[Joined]:
    """Each fill in 4/4 after and before eight bars of the likest groove of its drummer.

    A fill is joined to the grooves of the same drummer within 3 % of its tempo, those of its own
    style before others. Of a groove the eight bars that are most like each other are taken, since
    grooves hold unlabelled fills as well. A fill's file counts as fill from its start to its last
    hit.
    """
    with (folder / "takes.csv").open(newline="", encoding="utf-8") as lines:
        rows = [row for row in csv.DictReader(lines) if row["time_signature"] == "4-4"]
    parts = [_read(folder, row) for row in rows]
    grooves = [
        part for part in parts if part.row["beat_type"] == "beat" and part.bars > GROOVE_BARS
    ]
    found = []
    for fill in (part for part in parts if part.row["beat_type"] == "fill"):
        mates = [groove for groove in grooves if _match(groove, fill)]
        mates.sort(
            key=lambda groove: (groove.row["style"] != fill.row["style"], groove.row["file"])
        )
        if mates:
            found.append(_join(mates[0], fill))
    return found


def _match(groove: _Part, fill: _Part) -> bool:
    same = groove.row["drummer"] == fill.row["drummer"]
    return same and abs(float(groove.row["bpm"]) / float(fill.row["bpm"]) - 1) <= 0.03


def _join(groove: _Part, fill: _Part) -> Joined:
    begin = _most_regular(groove)
    inside = (groove.tick >= begin * 1920 - 40) & (groove.tick < (begin + GROOVE_BARS) * 1920 - 40)
    tick, piece, role = (column[inside] for column in (groove.tick, groove.piece, groove.role))
    tick = tick - begin * 1920
    before, behind = GROOVE_BARS * 1920, (GROOVE_BARS + fill.bars) * 1920
    own = fill.tick < fill.bars * 1920 - 40
    last = int((fill.tick[own].max() + 60) // 960)
    halves = [False] * (2 * (2 * GROOVE_BARS + fill.bars))
    for half in range(last + 1):
        halves[2 * GROOVE_BARS + half] = True
    return Joined(
        f"{fill.row['file']} in {groove.row['file']}",
        np.maximum(np.concatenate([tick, fill.tick[own] + before, tick + behind]), 0),
        np.concatenate([piece, fill.piece[own], piece]),
        np.concatenate([role, fill.role[own], role]),
        halves,
    )


def _most_regular(groove: _Part) -> int:
    """The first of the eight bars in which the pieces fall most alike."""
    bar = np.floor((groove.tick + 60) / 1920).astype(int)
    slot = np.floor((groove.tick + 60) % 1920 / 120).astype(int)
    kinds, kind = np.unique(groove.piece, return_inverse=True)
    played = np.zeros((groove.bars + 1, len(kinds), 16))
    inside = bar < groove.bars
    played[bar[inside], kind[inside], slot[inside]] = 1
    windows = [slice(first, first + GROOVE_BARS) for first in range(groove.bars - GROOVE_BARS + 1)]
    spread = np.array([played[bars].var(axis=0).sum() for bars in windows])
    # Bars of rest are the most regular of all: the eight bars must be as busy as the take is.
    busy = np.array([played[bars].sum() for bars in windows])
    return int(np.argmin(np.where(busy >= 0.9 * np.median(busy), spread, np.inf)))
