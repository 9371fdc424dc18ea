"""Which file hears each piece first, and how much earlier than most of them.

The curve that all files share lies where most of them hear a hit. If rooms and overheads outnumber
a close microphone, that is theirs: late by their distance. So each piece is looked for in each file
by itself, around some of its hits; where it is heard first, clearly and in nearly all of them at
the same moment, it begins.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.jobs.conform.encoding import Signal
from evenhand.jobs.conform.rises import HeardAttacks

#: The rise in a file from a step on, so many steps: file, first step, steps.
Ears = Callable[[int, int, int], Signal]

#: So far ahead of where most files have it a piece is looked for, and behind, seconds.
_AHEAD_S, _BEHIND_S = 0.025, 0.008
#: So many of its hits are listened to; fewer say nothing.
_HITS, _FEWEST = 24, 4
#: A file hears a piece clearly where it rises by this, and by this share of what the best one has.
_CLEAR, _CLEAR_SHARE = 1.5, 0.4
#: It is heard from where half of the rise is there, and begins where this share of it is.
_HALF, _FOOT = 0.5, 0.15
#: Hits agree if they are this near to their middle, seconds; this share of them must, and with less
#: than that it is not believed, but told.
_NEAR_S, _AGREE, _PERHAPS = 0.0015, 0.6, 0.35
#: Less than this is how blunt the curve is, seconds.
_LEAST_S = 0.001


@dataclass(frozen=True)
class FirstHeard:
    """Where a piece is heard first.

    Attributes
    ----------
    file : int
        Index of the file.
    earlier : float
        So much earlier than in most of them, seconds.
    agree : float
        Share of its hits that agree.
    """

    file: int
    earlier: float
    agree: float

    @property
    def sure(self) -> bool:
        """Whether its hits are placed there."""
        return self.agree >= _AGREE


def find_first(
    at: Floats, piece: Words, found: Bools, heard: HeardAttacks, ears: Ears
) -> dict[str, FirstHeard]:
    """Find where pieces are heard earlier than in most files.

    Parameters
    ----------
    at : float64 array, shape (hits,)
        Where most files have each hit, seconds, in any order.
    piece : str array, shape (hits,)
    found : bool array, shape (hits,)
        Which have an attack at all.
    heard : HeardAttacks
    ears : callable
        See `Ears`.

    Returns
    -------
    dict
        By piece; those that are heard no earlier anywhere are left out.
    """
    per_second = heard.per_second
    ahead, behind = round(_AHEAD_S * per_second), round(_BEHIND_S * per_second)
    gap = _gap_before(at)
    first: dict[str, FirstHeard] = {}
    for name in np.unique(piece[found]).tolist():
        mine = np.flatnonzero(found & (piece == name))
        # Those that stand most alone say the most.
        mine = mine[np.argsort(-gap[mine], kind="stable")[:_HITS]]
        steps = np.rint(at[mine] * per_second).astype(np.int64)
        steps = steps[(steps >= ahead) & (steps + behind < len(heard.rise))]
        if len(steps) < _FEWEST:
            continue
        one = _first_of(steps, (ahead, behind), heard, ears)
        if one:
            first[name] = one
    return first


def _gap_before(at: Floats) -> Floats:
    """How long before each hit the last other one was, seconds; no more than counts."""
    order = np.argsort(at, kind="stable")
    gap = np.empty(len(at))
    gap[order] = np.diff(at[order], prepend=-np.inf)
    return np.asarray(np.minimum(gap, 2 * _AHEAD_S))


def _first_of(
    steps: Ints, window: tuple[int, int], heard: HeardAttacks, ears: Ears
) -> FirstHeard | None:
    ahead, behind = window
    curves = {
        file: np.stack([ears(file, int(at) - ahead, ahead + behind + 1) for at in steps])
        for file in np.flatnonzero(heard.loudness > 0).tolist()
    }
    # What other hits do around there differs from hit to hit; the middle of all has none of it.
    shapes = {file: np.median(rows, axis=0).astype(np.float64) for file, rows in curves.items()}
    heights = {file: float(np.ptp(shape)) for file, shape in shapes.items()}
    clear = max(_CLEAR, _CLEAR_SHARE * max(heights.values(), default=0.0))
    best: FirstHeard | None = None
    for file, shape in shapes.items():
        if heights[file] < clear:
            continue
        # The step behind the foot has the attack in it whole (see `attacks`), here as there.
        earlier = (ahead - 1 - _begin(shape)) / heard.per_second
        if earlier < _LEAST_S or (best and earlier <= best.earlier):
            continue
        begins = np.array([_begin(row.astype(np.float64), _HALF) for row in curves[file]])
        near = np.abs(begins - np.median(begins)) <= _NEAR_S * heard.per_second
        agree = float(np.mean(near & (np.ptp(curves[file], axis=1) >= _CLEAR)))
        if agree >= (_AGREE if best and best.sure else _PERHAPS):
            best = FirstHeard(file, earlier, agree)
    return best


def _begin(shape: Floats, foot: float = _FOOT) -> int:
    """Where a curve first rises high, in steps."""
    # An attack is a rise for 10 ms of these 33: the middle of all is what lies around it.
    ground, top = float(np.median(shape)), float(shape.max())
    at = int(np.argmax(shape >= ground + _HALF * (top - ground)))
    low = np.flatnonzero(shape[:at] < ground + foot * (top - ground))
    return int(low[-1]) + 1 if len(low) else 0
