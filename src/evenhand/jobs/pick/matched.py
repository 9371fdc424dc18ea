"""The same stroke in several takes: hits on one piece at one place are one stroke."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.jobs.pick.together import Laid
from evenhand.kit import ANCHOR, GHOST

# Hits of several takes within this much of a quarter are the same stroke: more than a push, less
# than a sixteenth. Common practice.
_WITHIN = 0.16
# Places are taken to the nearest sixteenth or triplet eighth of a quarter.
_LINES = np.array([0, 1 / 4, 1 / 3, 1 / 2, 2 / 3, 3 / 4, 1])
# A hit that leads so closely to a louder one on its piece goes with it (see the ornaments).
_GRACE_MS, _SOFTER = 60.0, 0.8
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
    grace = np.where(lead > quarter, " grace", "")
    stroke = _number(take, quarter, np.char.add(piece.astype(np.str_), grace))
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


def _number(take: Ints, quarter: Floats, piece: Words) -> Ints:
    """Number the strokes: hits on one piece, from different takes, near to each other."""
    order = np.lexsort((take, quarter, piece)).tolist()
    takes, quarters, pieces = take.tolist(), quarter.tolist(), piece.tolist()
    groups: list[list[int]] = []
    for index in order:
        last = groups[-1] if groups else []
        goes_on = (
            last
            and pieces[index] == pieces[last[0]]
            and quarters[index] - quarters[last[0]] <= _WITHIN
            and all(takes[index] != takes[one] for one in last)
        )
        if goes_on:
            last.append(index)
        else:
            groups.append([index])
    stroke = np.empty(len(take), np.int64)
    for number, group in enumerate(_grown(groups, takes, quarters, pieces)):
        stroke[group] = number
    return stroke


def _grown(
    groups: list[list[int]], takes: list[int], quarters: list[float], pieces: list[str]
) -> list[list[int]]:
    """Put neighbours together that lie near in the middle: one early hit must not part the rest."""
    grown: list[list[int]] = []
    for group in groups:
        last = grown[-1] if grown else []
        # Hits of a group are in time order.
        if (
            last
            and pieces[last[0]] == pieces[group[0]]
            and quarters[group[len(group) // 2]] - quarters[last[len(last) // 2]] <= _WITHIN
            and not {takes[one] for one in last} & {takes[one] for one in group}
        ):
            last.extend(group)
        else:
            grown.append(list(group))
    return grown


def _middles(values: Floats, stroke: Ints) -> Floats:
    """The median of each stroke's values."""
    order = np.lexsort((values, stroke))
    ordered = values[order]
    count = np.bincount(stroke)
    begin = np.cumsum(count) - count
    return np.asarray((ordered[begin + (count - 1) // 2] + ordered[begin + count // 2]) / 2)
