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

from evenhand.columns import Bools, Floats, Ints, Words
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

# Places and bars of hits that are packed into one number stay below this.
_LARGEST = 2**62


@dataclass(frozen=True, eq=False)
class Struck:
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
    struck: Struck, velocity: Ints, piece: Words, role: Words
) -> tuple[Words, tuple[Use, ...]]:
    """Tell the roles of hits by what they do.

    Parameters
    ----------
    struck : Struck
    velocity : int64 array, shape (n,)
    piece, role : str arrays, shape (n,)
        The roles by piece. Those of graces and rolls are left alone.

    Returns
    -------
    role : str array, shape (n,)
    uses : tuple of Use
        One for each voice of each section that does something else than its piece says.
    """
    role, uses = _feather(velocity, piece, role.copy())
    for section in np.unique(struck.section).tolist():
        here = struck.section == section
        count = len(np.unique(struck.bar[here]))
        if count < _FEW_BARS:
            continue
        one = _Section(struck, here, count)
        uses += _ticking(one, velocity, piece, role)
        uses += _toms(one, velocity, piece, role)
        uses += _comments(one, piece, role)
    return role, tuple(uses)


@dataclass(frozen=True, eq=False)
class _Section:
    struck: Struck
    here: Bools
    bars: int

    @property
    def number(self) -> int:
        return int(self.struck.section[self.here][0])

    def cover(self, which: Bools) -> float:
        """Share of the section's lines that some hits strike."""
        struck = self.struck
        lines = len(np.unique(packed(struck.bar[which], struck.place[which])))
        return float(lines / max(self.bars * np.median(struck.places[self.here]), 1.0))

    def usual(self, which: Bools, voice: Ints) -> Bools:
        """Which of some hits are where their voice usually strikes, in each bar or each second."""
        bar, place = self.struck.bar[which], self.struck.place[which]
        best = np.zeros(len(bar), np.bool_)
        for bars in (1, 2) if self.bars >= _MANY_BARS else (1,):
            cell = packed(voice[which], place, bar % bars)
            _, one = np.unique(packed(cell, bar), return_index=True)
            _, at = np.unique(cell, return_inverse=True)
            times = np.bincount(at[one])
            found = times[at] >= _USUAL * self.bars / bars
            best = found if found.sum() > best.sum() else best
        chosen = np.zeros(len(which), np.bool_)
        chosen[which] = best
        return chosen


def packed(*columns: Ints) -> Ints:
    """Several columns as one number for each entry, in their order: equal where all are equal."""
    number, size = np.zeros(len(columns[0]), np.int64), 1
    for column in columns:
        if len(column):
            low = int(column.min())
            many = int(column.max()) - low + 1
            if size * many > _LARGEST:
                # Numbers that occur, counted through, leave room.
                number = np.unique(number, return_inverse=True)[1]
                size = int(number.max()) + 1
            number = number * many + (column - low)
            size *= many
    return number


def _feather(velocity: Ints, piece: Words, role: Words) -> tuple[Words, list[Use]]:
    """Soft kicks are ghosts."""
    kick = (piece == "kick") & (role == ANCHOR)
    if not kick.any():
        return role, []
    limit = min(_SOFT, round(_FEATHERED * float(np.percentile(velocity[kick], 75))))
    soft = kick & (velocity < limit)
    if soft.sum() < _FEWEST:
        return role, []
    role[soft] = GHOST
    return role, [Use(-1, "kick", FEATHERED, int(soft.sum()), float(limit))]


def _ticking(one: _Section, velocity: Ints, piece: Words, role: Words) -> list[Use]:
    """A kick or a snare that strikes nearly every line keeps time."""
    uses = []
    for voice in ("kick", "snare"):
        mine = one.here & (piece == voice) & np.isin(role, (ANCHOR, GHOST))
        share = one.cover(mine)
        if share >= _TICKS and (mine & (role == ANCHOR)).any():
            uses.append(_keep_time(one, mine, voice, share, velocity, role))
    return uses


def _keep_time(
    one: _Section, mine: Bools, voice: str, share: float, velocity: Ints, role: Words
) -> Use:
    """Name hits timekeepers, and their accents anchors."""
    told = np.where(velocity[mine] >= loud_from(velocity[mine]), ANCHOR, TIMEKEEPER)
    changed = int((told != role[mine]).sum())
    role[mine] = told
    return Use(one.number, voice, TICKING, changed, 100 * share)


def _toms(one: _Section, velocity: Ints, piece: Words, role: Words) -> list[Use]:
    """Toms that carry the pattern are a groove."""
    mine = one.here & np.isin(piece, TOMS) & (role == FILL)
    if mine.sum() < _TOMS_A_BAR * one.bars:
        return []
    share = one.cover(mine)
    kept = (one.here & (role == TIMEKEEPER)).sum() >= _KEPT * one.bars
    if share >= _TICKS or (share >= _TOMS_TICK and not kept):
        return [_keep_time(one, mine, "toms", share, velocity, role)]
    usual = one.usual(mine, np.unique(piece, return_inverse=True)[1])
    share = usual.sum() / mine.sum()
    if share < _REPEATS:
        return []
    role[usual] = ANCHOR
    return [Use(one.number, "toms", PATTERN, int(usual.sum()), 100 * share)]


def _comments(one: _Section, piece: Words, role: Words) -> list[Use]:
    """Kick and snare that never do the same twice comment on what keeps time."""
    mine = one.here & np.isin(piece, _DRUMS) & (role == ANCHOR)
    keepers = one.here & (role == TIMEKEEPER) & ~np.isin(piece, _DRUMS)
    if one.bars < _MANY_BARS or not mine.any() or keepers.sum() < _KEPT * one.bars:
        return []
    voice = np.unique(piece, return_inverse=True)[1]
    usual = one.usual(mine, voice)
    share = usual.sum() / mine.sum()
    kept = one.usual(keepers, voice).sum() / keepers.sum()
    if share > _COMMENTS or kept < _KEEPS:
        return []
    role[mine & ~usual] = OTHER
    return [Use(one.number, "kick and snare", COMMENT, int((mine & ~usual).sum()), 100 * share)]
