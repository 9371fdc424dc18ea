"""What a hit does, told by what it does: who keeps time, who comments, what is feathered.

A piece does not say what a hit is for. A snare that is struck on nearly every line keeps time (a
march, a train beat), and its accents are the anchors. Where a cymbal keeps time while kick and
snare never do the same twice (jazz), these comment. Kicks far softer than the others are ghosts.
Toms that carry the pattern of a section are no fill.

All of it is told for each section from how often places of the bar are struck. The bounds lie in
gaps between what real playing of either sort shows; they were read off a hundred takes, and no
label of a take is used.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words, indices, median, numbered, percentile
from evenhand.kit.pieces import ANCHOR, FILL, GHOST, OTHER, TIMEKEEPER, TOMS
from evenhand.kit.roles import loud_from

#: What hits can be taken for, besides their role: `COMMENT` has no role of its own (it is `OTHER`).
TICKING, COMMENT, FEATHERED, PATTERN = "ticking", "comment", "feathered", "pattern"

# A voice that strikes this share of all lines keeps time. Grooves with many ghosts reach 0.6.
_TICKS = 0.65
# Without a hat or a ride, toms keep time from here.
_TOMS_TICK = 0.4
# A place is usual from this share of the bars, or of every second bar.
_USUAL = 0.4
# Kick and snare comment if no more than this share of their hits is where they usually are ...
_COMMENTS = 0.5
# ... while the timekeepers are at least as often, so many times a bar.
_KEEPS, _KEPT = 0.7, 2.0
# Toms carry a pattern if this share of their hits is usual, so many times a bar.
_REPEATS, _TOMS_A_BAR = 0.6, 1.0
# Fewest bars that show a pattern of the kind.
_FEW_BARS, _MANY_BARS = 4, 8
# A kick is feathered below this share of its loudest quarter, and never above; fewest of them.
_FEATHERED, _SOFT, _FEWEST = 0.4, 40, 8

_DRUMS = ("kick", "snare", "side stick")

# Largest number that columns are packed into.
_MOST = 1 << 62


@dataclass(frozen=True, eq=False)
class StruckAt:
    """Where n hits are struck.

    Attributes
    ----------
    section : int64 array, shape (n,)
    bar : int64 array, shape (n,)
    place : int64 array, shape (n,)
        The line of the hit in its bar, from 0, on lines that suit its section.
    places : float64 array, shape (n,)
        How many such lines its bar has.
    """

    section: Ints
    bar: Ints
    place: Ints
    places: Floats


@dataclass(frozen=True)
class Use:
    """What some hits of a section were taken for, and why.

    Attributes
    ----------
    section : int
        -1 for the whole take.
    voice : str
        Which hits: `snare`, `kick`, `toms`, `kick and snare`.
    taken : str
        `TICKING`, `COMMENT`, `FEATHERED` or `PATTERN`.
    hits : int
        How many hits have another role for it than their piece has.
    share : float
        What it was told by, percent: of all lines, how many are struck (`TICKING`); of the hits,
        how many are where they usually are (`COMMENT`, `PATTERN`). For `FEATHERED` the velocity
        below which a kick is a ghost.
    """

    section: int
    voice: str
    taken: str
    hits: int
    share: float


def find_uses(
    struck: StruckAt, velocity: Ints, piece: tuple[Words, Ints], role: Words
) -> tuple[Words, tuple[Use, ...]]:
    """Tell the roles of hits by what they do.

    Parameters
    ----------
    struck : StruckAt
    velocity : int64 array, shape (n,)
    piece : (str array, int64 array)
        The pieces there are, and which of them each hit is of, shape (n,).
    role : str array, shape (n,)
        The roles by piece. Those of graces and rolls are left alone.

    Returns
    -------
    role : str array, shape (n,)
    uses : tuple of Use
        One for each voice of each section that does something else than its piece says.
    """
    names, voice = piece
    role, uses = _feather(velocity, (names == "kick")[voice], role.copy())
    for section in indices(np.bincount(struck.section)).tolist():
        hits = indices(struck.section == section)
        bar, place = struck.bar[hits], struck.place[hits]
        bars = len(numbered(bar)[0])
        if bars < _FEW_BARS:
            continue
        lines = max(bars * median(struck.places[hits]), 1.0)
        own = (velocity[hits], names, voice[hits], role[hits])
        one = _Section(section, bars, lines, bar, place, *own)
        uses += [*_ticking(one), *_toms(one), *_comments(one)]
        role[hits] = one.role
    return role, tuple(uses)


@dataclass(frozen=True, eq=False)
class _Section:
    """A section with so many bars, its lines and its hits, of which the roles are named anew."""

    number: int
    bars: int
    lines: float
    bar: Ints
    place: Ints
    velocity: Ints
    names: Words
    voice: Ints
    role: Words

    def of(self, *pieces: str) -> Bools:
        """Which hits are of some pieces."""
        return np.array([name in pieces for name in self.names.tolist()])[self.voice]

    def cover(self, which: Bools, least: float) -> float:
        """Share of the section's lines that some hits strike; 0 if it is surely below the least."""
        if which.sum() / self.lines < least:
            return 0.0
        return len(numbered(packed(self.bar[which], self.place[which]))[0]) / self.lines

    def usual(self, which: Bools, enough: float = 1.0) -> Bools:
        """Which of some hits are where their voice usually strikes, in each bar or each second.

        If more than `enough` of them are by each bar, second bars are not looked at.
        """
        voice, bar, place = self.voice[which], self.bar[which], self.place[which]
        best = np.zeros(len(bar), np.bool_)
        room = int(np.ptp(bar)) + 1
        for bars in (1, 2) if self.bars >= _MANY_BARS else (1,):
            cells, at = numbered(packed(voice, place, bar % bars))
            struck, _ = numbered(at * room + bar - bar.min())
            times = np.bincount(struck // room, minlength=len(cells))
            found = (times >= _USUAL * self.bars / bars)[at]
            best = found if found.sum() > best.sum() else best
            if best.sum() > enough * len(best):
                break
        chosen = np.zeros(len(which), np.bool_)
        chosen[which] = best
        return chosen


def packed(*columns: Ints) -> Ints:
    """Several columns as one number for each entry, in their order: equal where all are equal."""
    number, most = np.zeros(len(columns[0]), np.int64), 1
    for column in columns:
        if len(column):
            low = int(column.min())
            room = int(column.max()) - low + 1
            if most * room > _MOST:
                found, number = numbered(number)
                most = len(found)
            number = number * room + (column - low)
            most *= room
    return number


def _feather(velocity: Ints, kick: Bools, role: Words) -> tuple[Words, list[Use]]:
    """Soft kicks are ghosts."""
    kick = kick & (role == ANCHOR)
    if not kick.any():
        return role, []
    limit = min(_SOFT, round(_FEATHERED * percentile(velocity[kick], 75.0)))
    soft = kick & (velocity < limit)
    if soft.sum() < _FEWEST:
        return role, []
    role[soft] = GHOST
    return role, [Use(-1, "kick", FEATHERED, int(soft.sum()), float(limit))]


def _ticking(one: _Section) -> list[Use]:
    """A kick or a snare that strikes nearly every line keeps time."""
    uses = []
    anchors, ghosts = one.role == ANCHOR, one.role == GHOST
    for voice in ("kick", "snare"):
        its = one.of(voice)
        anchor = its & anchors
        mine = anchor | its & ghosts
        share = one.cover(mine, _TICKS)
        if share >= _TICKS and anchor.any():
            uses.append(_keep_time(one, mine, voice, share))
    return uses


def _keep_time(one: _Section, mine: Bools, voice: str, share: float) -> Use:
    """Name hits timekeepers, and their accents anchors."""
    velocity = one.velocity[mine]
    told = np.where(velocity >= loud_from(velocity), ANCHOR, TIMEKEEPER)
    changed = int((told != one.role[mine]).sum())
    one.role[mine] = told
    return Use(one.number, voice, TICKING, changed, 100 * share)


def _toms(one: _Section) -> list[Use]:
    """Toms that carry the pattern are a groove."""
    mine = one.of(*TOMS) & (one.role == FILL)
    if mine.sum() < _TOMS_A_BAR * one.bars:
        return []
    share = one.cover(mine, _TOMS_TICK)
    kept = (one.role == TIMEKEEPER).sum() >= _KEPT * one.bars
    if share >= _TICKS or (share >= _TOMS_TICK and not kept):
        return [_keep_time(one, mine, "toms", share)]
    usual = one.usual(mine)
    share = usual.sum() / mine.sum()
    if share < _REPEATS:
        return []
    one.role[usual] = ANCHOR
    return [Use(one.number, "toms", PATTERN, int(usual.sum()), 100 * share)]


def _comments(one: _Section) -> list[Use]:
    """Kick and snare that never do the same twice comment on what keeps time."""
    drums = one.of(*_DRUMS)
    mine, keepers = drums & (one.role == ANCHOR), (one.role == TIMEKEEPER) & ~drums
    if one.bars < _MANY_BARS or not mine.any() or keepers.sum() < _KEPT * one.bars:
        return []
    usual = one.usual(mine, _COMMENTS)
    share = usual.sum() / mine.sum()
    if share > _COMMENTS or one.usual(keepers).sum() / keepers.sum() < _KEEPS:
        return []
    one.role[mine & ~usual] = OTHER
    return [Use(one.number, "kick and snare", COMMENT, int((mine & ~usual).sum()), 100 * share)]
