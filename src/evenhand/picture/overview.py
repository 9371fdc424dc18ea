"""What a picture shows, as plain columns."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Brief, Floats, Ints, Words
from evenhand.errors import MidiFileError
from evenhand.ground import Ground
from evenhand.kit import ANCHOR, FILL, TIMEKEEPER
from evenhand.measure import find_evenness, measure
from evenhand.outcome import Changes
from evenhand.profile import Profile, find_profile

# The places and pieces of the table, the most struck first.
_PLACES, _PIECES = 16, 6


@dataclass(frozen=True, eq=False)
class Table(Brief):
    """Where pieces usually lie, p pieces at b beats of the bar.

    Attributes
    ----------
    piece : tuple of str
    beat : float64 array, shape (b,)
    ms : float64 array, shape (p, b)
        From the line, minus is early; NaN where the piece is not struck.
    count : int64 array, shape (p, b)
    """

    piece: tuple[str, ...]
    beat: Floats
    ms: Floats
    count: Ints


@dataclass(frozen=True, eq=False)
class Overview(Brief):
    """What one picture shows: n hits on lines.

    Attributes
    ----------
    title : str
    bar : float64 array, shape (n,)
        Where each hit lies, in bars: 3.5 is the middle of bar 3.
    piece : str array, shape (n,)
    leads : bool array, shape (n,)
        Whether it is no timekeeper, ghost or ornament: those are drawn faint.
    before, after : float64 arrays, shape (n,)
        From the line, ms; the same twice where nothing was done.
    section : tuple of (float, str)
        Where each section begins, in bars, and its name.
    table : Table
    even_bar, even_before, even_after : float64 arrays
        Bars with timekeepers, and how far these lie off their neighbours there in the middle, ms.
    even : str
        What keeps time, and how even it is, in words; empty without a timekeeper.
    """

    title: str
    bar: Floats
    piece: Words
    leads: Bools
    before: Floats
    after: Floats
    section: tuple[tuple[float, str], ...]
    table: Table
    even_bar: Ints
    even_before: Floats
    even_after: Floats
    even: str

    @property
    def passed(self) -> bool:
        """Whether anything was done to the take."""
        return not np.array_equal(self.before, self.after)


def overview_of(ground: Ground, title: str, changes: Changes | None = None) -> Overview:
    """Lay out a picture of a take, or of a pass over it.

    Parameters
    ----------
    ground : Ground
    title : str
    changes : Changes, optional
        What a pass did; without it the take is shown as it is.
    """
    hits, measured = ground.hits, measure(ground)
    lined, before = measured.lined, measured.off
    after = before if changes is None else before + changes.shift_ms
    hit = np.flatnonzero(lined)
    bars = ground.time.bars_at(ground.tick)
    place = bars.number + (ground.tick - bars.start) / (bars.stop - bars.start)
    sections = ground.layout.sections
    begins = ground.time.bars_at(np.maximum(sections.tick, 0)).number
    keeps = hits.role == TIMEKEEPER
    even_bar, rows = _evenness_by_bar(bars.number, keeps & lined, ground.tick, (before, after))
    return Overview(
        title=title,
        bar=place[hit],
        piece=hits.piece[hit],
        leads=np.isin(hits.role[hit], (ANCHOR, FILL)),
        before=before[hit],
        after=after[hit],
        section=tuple(zip(begins.astype(float).tolist(), sections.name, strict=True)),
        table=_table(ground),
        even_bar=even_bar,
        even_before=rows[0],
        even_after=rows[1],
        even=_even_words(ground, keeps, (before, after)),
    )


def _even_words(ground: Ground, keeps: Bools, rows: tuple[Floats, Floats]) -> str:
    line = measure(ground).line
    found = [find_evenness(ground.hits, keeps, line, row) for row in rows]
    if not found[0] or not found[1]:
        return ""
    words = f"{found[0].piece}: {found[0].spread:.1f} ms from step to step"
    if rows[0] is rows[1]:
        return words
    return f"{words} before, {found[1].spread:.1f} ms after"


def _evenness_by_bar(
    bar: Ints, keeps: Bools, tick: Floats, rows: tuple[Floats, Floats]
) -> tuple[Ints, list[Floats]]:
    """How far timekeepers lie off their neighbours, in the middle of each bar."""
    hit = np.flatnonzero(keeps)
    hit = hit[np.argsort(tick[hit], kind="stable")]
    if len(hit) < 3:
        return np.zeros(0, np.int64), [np.zeros(0), np.zeros(0)]
    inner = bar[hit[1:-1]]
    bars = np.unique(inner)
    found = []
    for row in rows:
        off = row[hit]
        bend = np.abs(off[1:-1] - (off[:-2] + off[2:]) / 2)
        found.append(np.array([float(np.median(bend[inner == one])) for one in bars.tolist()]))
    return bars, found


def _table(ground: Ground) -> Table:
    """The most struck places of the most struck pieces; empty where no habit can be told."""
    try:
        profile = find_profile([ground])
    except MidiFileError:
        return Table((), np.zeros(0), np.zeros((0, 0)), np.zeros((0, 0), np.int64))
    pieces = _most_struck(profile, profile.piece, _PIECES)
    beats = np.sort(_most_struck(profile, profile.beat, _PLACES).astype(np.float64))
    ms = np.full((len(pieces), len(beats)), np.nan)
    count = np.zeros(ms.shape, np.int64)
    for piece, beat, much, many in zip(
        profile.piece, profile.beat, profile.ms, profile.count, strict=True
    ):
        at = np.flatnonzero(pieces == piece), np.flatnonzero(beats == beat)
        ms[np.ix_(*at)], count[np.ix_(*at)] = much, many
    return Table(tuple(pieces.tolist()), beats, ms, count)


def _most_struck(profile: Profile, column: Words | Floats, most: int) -> Words:
    names, at = np.unique(column, return_inverse=True)
    struck = np.bincount(at, profile.count)
    return np.asarray(names[np.argsort(-struck, kind="stable")[:most]])
