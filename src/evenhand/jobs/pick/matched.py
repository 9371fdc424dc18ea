"""The same stroke in several takes: hits on one piece at one place are one stroke."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.jobs.pick.in_order import Row, pair_in_order
from evenhand.jobs.pick.one_ruler import Laid
from evenhand.kit import ANCHOR, GHOST

# Hits of several takes within this much of a quarter are the same stroke: more than a push, less
# than a sixteenth. Common practice.
_WITHIN = 0.16
# Places are taken to the nearest sixteenth or triplet eighth of a quarter.
_LINES = np.array([0, 1 / 4, 1 / 3, 1 / 2, 2 / 3, 3 / 4, 1])
# A hit that leads so closely to a louder one on its piece goes with it (see the ornaments).
_GRACE_MS, _SOFTER = 60.0, 0.8
# Two notes of one piece (two crashes, foot and stick of a hat) that one take has no further apart,
# quarters, may be the other way around in others.
_SWAPPED = 0.08
# The half of a sixteenth: how early a downbeat may be and still be one, quarters.
EARLY = 1 / 8


@dataclass(frozen=True, eq=False)
class Matched:
    """All hits of all takes, h of them, one take after the other.

    Attributes
    ----------
    take, hit : int64 arrays, shape (h,)
        Whose hit it is, and which one there.
    stroke : int64 array, shape (h,)
        Hits with one number are the same stroke.
    quarter : float64 array, shape (h,)
        Where each lies on the common ruler.
    place : float64 array, shape (h,)
        The line of its stroke, quarters.
    side : float64 array, shape (h,)
        What decides which bar it belongs to: where its stroke, or the one that it leads to, lies
        in the middle of all takes.
    piece : str array, shape (h,)
    anchor, ghost : bool arrays, shape (h,)
    velocity : int64 array, shape (h,)
    count : int64 array, shape (strokes,)
        In how many takes each stroke occurs.
    """

    take: Ints
    hit: Ints
    stroke: Ints
    quarter: Floats
    place: Floats
    side: Floats
    piece: Words
    anchor: Bools
    ghost: Bools
    velocity: Ints
    count: Ints


def match(takes: Sequence[Laid]) -> Matched:
    """Find the same strokes in several takes.

    Parameters
    ----------
    takes : sequence of Laid
    """
    sizes = [len(one.hits) for one in takes]
    take = np.repeat(np.arange(len(takes)), sizes)
    hit = np.concatenate([np.arange(size) for size in sizes])
    quarter = np.concatenate([one.quarter for one in takes])
    lead = np.concatenate([_leads(one) for one in takes])
    piece = np.concatenate([one.hits.piece for one in takes])
    # Graces are matched with graces: a main hit that is early lies where others have their grace.
    grace = lead > quarter
    note = np.concatenate([one.hits.note for one in takes])
    rows = _Rows(take, quarter, piece, note, grace)
    # A take that lies beside the others as a whole would put each hit of a roll beside the next.
    stroke = replace(rows, quarter=quarter - rows.leans()[take]).strokes()
    middle = _middles(quarter, stroke)
    whole = np.floor(middle)
    place = whole + _LINES[np.abs((middle - whole)[:, None] - _LINES).argmin(axis=1)]
    side = _middles(lead, stroke)
    return Matched(
        take=take,
        hit=hit,
        stroke=stroke,
        quarter=quarter,
        place=place[stroke],
        side=side[stroke],
        piece=piece,
        anchor=np.concatenate([one.hits.role == ANCHOR for one in takes]),
        ghost=np.concatenate([one.hits.role == GHOST for one in takes]),
        velocity=np.concatenate([one.hits.velocity for one in takes]),
        count=np.bincount(stroke),
    )


def _leads(one: Laid) -> Floats:
    """Where the hit lies that each leads to: itself, but for graces."""
    order = np.lexsort((one.hits.tick, one.hits.piece))
    lead = one.quarter.copy()
    ms, loud, piece = one.hits.ms, one.hits.velocity, one.hits.piece
    for index, after in zip(order[-2::-1].tolist(), order[:0:-1].tolist(), strict=True):
        near = piece[index] == piece[after] and ms[after] - ms[index] <= _GRACE_MS
        if near and loud[index] <= _SOFTER * loud[after]:
            lead[index] = lead[after]
    return lead


@dataclass(frozen=True, eq=False)
class _Rows:
    """What strokes are told by: columns of all hits of all takes."""

    take: Ints
    quarter: Floats
    piece: Words
    note: Ints
    grace: Bools

    def leans(self) -> Floats:
        """How far behind the middle of all takes each take lies, quarters."""
        stroke = self.strokes()
        away = self.quarter - _middles(self.quarter, stroke)[stroke]
        shared = np.bincount(stroke)[stroke] > 1
        clear = shared & self._lone()
        told = clear if clear.any() else shared
        mine = [away[told & (self.take == one)] for one in range(int(self.take.max()) + 1)]
        return np.array([float(np.median(one)) if len(one) else 0.0 for one in mine])

    def _lone(self) -> Bools:
        """Hits with no other one of their piece and take so near that it could be the same."""
        _, piece = np.unique(self.piece, return_inverse=True)
        order = np.lexsort((self.quarter, piece, self.take))
        apart = np.diff(self.quarter[order]) > 2 * _WITHIN
        apart |= (np.diff(piece[order]) != 0) | (np.diff(self.take[order]) != 0)
        lone = np.empty(len(order), np.bool_)
        lone[order] = np.append(True, apart) & np.append(apart, True)
        return lone

    def strokes(self) -> Ints:
        """Number the strokes: hits on one piece, from different takes, near to each other."""
        stroke = np.empty(len(self.take), np.int64)
        begin = 0
        for name in np.unique(self.piece):
            mine = np.flatnonzero(self.piece == name)
            groups: list[list[int]] = []
            for one in np.unique(self.take[mine]):
                groups = self._laid_beside(groups, mine[self.take[mine] == one])
            self._swap(groups)
            for number, group in enumerate(groups, begin):
                stroke[group] = number
            begin += len(groups)
        return stroke

    def _laid_beside(self, groups: list[list[int]], hits: Ints) -> list[list[int]]:
        """Groups of hits, in order, with the hits of one more take in them."""
        hits = hits[np.argsort(self.quarter[hits], kind="stable")]
        kinds = [bool(self.grace[group[0]]) for group in groups]
        pairs = pair_in_order(
            Row([self._place(group) for group in groups], kinds),
            Row(self.quarter[hits].tolist(), self.grace[hits].tolist()),
            _WITHIN,
        )
        for at, hit in pairs:
            groups[at].append(int(hits[hit]))
        taken = {hit for _, hit in pairs}
        groups += [[int(hit)] for number, hit in enumerate(hits.tolist()) if number not in taken]
        return sorted(groups, key=self._place)

    def _place(self, group: list[int]) -> float:
        return float(self.quarter[group].mean())

    def _swap(self, groups: list[list[int]]) -> None:
        """Put two hits of a take that others have the other way around where their notes are."""
        for one, other in pairwise(groups):
            takes = self.take[one].tolist(), self.take[other].tolist()
            for take in {*takes[0]} & {*takes[1]}:
                here, there = takes[0].index(take), takes[1].index(take)
                first, last = one[here], other[there]
                wanted = self._note(one, first), self._note(other, last)
                apart = abs(self.quarter[last] - self.quarter[first])
                swapped = (self.note[last], self.note[first])
                if wanted[0] != wanted[1] and wanted == swapped and apart <= _SWAPPED:
                    one[here], other[there] = last, first

    def _note(self, group: list[int], but: int) -> int:
        """The note that most of a group have, one hit not counted; -1 for none."""
        notes = Counter(int(self.note[hit]) for hit in group if hit != but)
        return notes.most_common(1)[0][0] if notes else -1


def _middles(values: Floats, stroke: Ints) -> Floats:
    """The median of each stroke's values."""
    order = np.lexsort((values, stroke))
    ordered = values[order]
    count = np.bincount(stroke)
    begin = np.cumsum(count) - count
    return np.asarray((ordered[begin + (count - 1) // 2] + ordered[begin + count // 2]) / 2)
