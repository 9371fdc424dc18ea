"""What is in the picture, as plain columns; how it is drawn is another matter."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from evenhand.assessor import Assessment
from evenhand.columns import Brief, Floats, Ints, Words
from evenhand.errors import MidiFileError
from evenhand.ground import Ground
from evenhand.kit import ANCHOR, TIMEKEEPER
from evenhand.measure import Measured, find_evenness, measure
from evenhand.profile import find_profile
from evenhand.tightener import Result

_Entry = TypeVar("_Entry", bound=np.generic)

#: The table of the habit has room for so many pieces and places: those with the most hits.
MOST_PIECES, MOST_PLACES = 8, 16

#: A cell of the table rests on so many hits at least.
FEWEST = 3


@dataclass(frozen=True, eq=False)
class Habits(Brief):
    """Where each piece usually lies at each place of the bar.

    Attributes
    ----------
    piece : str array, shape (p,)
        The most played first.
    beat : float64 array, shape (b,)
        From 1, in order.
    ms : float64 array, shape (p, b)
        From the line, minus is early; NaN where there are fewer than `FEWEST` hits.
    """

    piece: Words
    beat: Floats
    ms: Floats


@dataclass(frozen=True)
class Even:
    """How even a timekeeper is in a section.

    Attributes
    ----------
    section, piece : str
    before, after : float
        Standard deviation of its intervals against those of the lines, ms; `after` is NaN where
        nothing was tightened.
    """

    section: str
    piece: str
    before: float
    after: float


@dataclass(frozen=True, eq=False)
class Shown(Brief):
    """All that is in the picture of a take with n anchor hits on lines.

    Attributes
    ----------
    title : str
    piece : str array, shape (n,)
    bar : float64 array, shape (n,)
        Where the line of each hit lies: 17.5 is in the middle of bar 17.
    before, after : float64 arrays, shape (n,)
        From the line, ms, minus is early; `after` is NaN where nothing was tightened.
    first_bar : int64 array, shape (s,)
    label : tuple of str
        Where each section begins, and what it is called.
    habits : Habits, optional
        None where too few hits lie on lines.
    even : tuple of Even
        The sections in which a timekeeper has enough hits.
    """

    title: str
    piece: Words
    bar: Floats
    before: Floats
    after: Floats
    first_bar: Ints
    label: tuple[str, ...]
    habits: Habits | None
    even: tuple[Even, ...]

    @property
    def tightened(self) -> bool:
        """Whether there is an after."""
        return bool(np.isfinite(self.after).any())


def show_assessment(assessment: Assessment) -> Shown:
    """What the picture of a take as it was played shows.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    Shown
    """
    ground, measured = assessment.ground, assessment.measured
    anchor = (ground.hits.role == ANCHOR) & measured.lined
    before = measured.deviation[anchor]
    columns = (measured.line[anchor], before, np.full_like(before, np.nan))
    return _shown(ground, measured, ground.hits.piece[anchor], columns, None)


def show_result(result: Result) -> Shown:
    """What the picture of a take before and after tightening shows.

    Parameters
    ----------
    result : Result

    Returns
    -------
    Shown
    """
    ground, changes = result.ground, result.changes
    measured = measure(ground)
    anchor = np.isfinite(changes.deviation_before)
    line = ground.judged(changes.line[anchor])
    columns = (line, changes.deviation_before[anchor], changes.deviation_after[anchor])
    return _shown(ground, measured, ground.hits.piece[anchor], columns, changes.shift_ms)


def _shown(
    ground: Ground,
    measured: Measured,
    piece: Words,
    columns: tuple[Floats, Floats, Floats],
    shift: Floats | None,
) -> Shown:
    line, before, after = columns
    bars = ground.time.bars_at(line)
    sections = ground.layout.sections
    return Shown(
        title=ground.take.name,
        piece=piece,
        bar=bars.number + (line - bars.start) / (bars.stop - bars.start),
        before=before,
        after=after,
        first_bar=np.array([first for first, _ in sections.bars], np.int64),
        label=tuple(map(str, sections.labels)),
        habits=_habits(ground),
        even=_even(ground, measured, shift),
    )


def _habits(ground: Ground) -> Habits | None:
    try:
        found = find_profile([ground])
    except MidiFileError:
        return None
    told = found.count >= FEWEST
    pieces = _most_played(found.piece[told], found.count[told], MOST_PIECES)
    beats = _most_played(found.beat[told], found.count[told], MOST_PLACES)
    beats.sort()
    ms = np.full((len(pieces), len(beats)), np.nan)
    for index in np.flatnonzero(told):
        row = np.flatnonzero(pieces == found.piece[index])
        column = np.flatnonzero(beats == found.beat[index])
        ms[row[:, None], column] = found.ms[index]
    return Habits(pieces, beats, ms) if ms.size else None


def _most_played(names: NDArray[_Entry], count: Ints, most: int) -> NDArray[_Entry]:
    """The names with the most hits, those first; equals in their order."""
    every, of_name = np.unique(names, return_inverse=True)
    hits = np.bincount(of_name, count, len(every))
    chosen: NDArray[_Entry] = every[np.argsort(-hits, kind="stable")[:most]]
    return chosen


def _even(ground: Ground, measured: Measured, shift: Floats | None) -> tuple[Even, ...]:
    hits, found = ground.hits, []
    before = measured.deviation
    after = before + (np.nan if shift is None else shift)
    for index, label in enumerate(ground.layout.sections.labels):
        which = (hits.role == TIMEKEEPER) & (measured.section == index)
        then = find_evenness(hits, which, measured.line, before)
        if then:
            now = find_evenness(hits, which, measured.line, after)
            found.append(
                Even(str(label), then.piece, then.spread, now.spread if now else float("nan"))
            )
    return tuple(found)
