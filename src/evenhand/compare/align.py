"""Which hit of one file is which hit of another: an alignment in time.

Two files of one performance hold the same hits, but some were moved, some added and some dropped,
so their numbers don't tell. The hits of each piece are paired in order, so that no two pairs
cross, and one of the cheapest such pairings is taken: a pair costs how far it lies apart in ms,
and something for a change of velocity; a hit left alone costs as much as the largest move there
may be. So a roll that moved as a whole is not taken for one that lost its first hit, and a lost
hit does not shift all that follow.

This is sequence alignment with a gap cost (Needleman & Wunsch 1970, J. Mol. Biol. 48(3), 443-453;
from memory), solved over the few pairs that are near enough to be worth it, as a heaviest chain.
"""

from bisect import bisect_left

import numpy as np

from evenhand.columns import Floats, Ints, Words

# Cost of a step of velocity in ms, and the most that velocity costs, as a share of the largest
# move: it decides where times are in doubt. Found by trying, on real takes tightened at strength 75
# (where no pair is wrong with these) and on takes with known edits.
_VELOCITY_MS = 1.0
_VELOCITY_MOST = 1 / 3

#: How many hits on each side are looked at; more only where hits lie closer than anyone plays.
_NEARBY = 16

#: Times equal to this many decimals of a ms are the same.
_PLACES = 3


def align(
    ms: tuple[Floats, Floats],
    velocity: tuple[Ints, Ints],
    piece: tuple[Words, Words],
    within: float,
) -> tuple[Ints, Ints]:
    """Pair the hits of two files.

    Parameters
    ----------
    ms : two float64 arrays, shapes (n,) and (m,)
    velocity : two int64 arrays
    piece : two str arrays
        Only hits on the same piece can be a pair.
    within : float
        How far apart a pair may be, ms; no pair is as far apart as that.

    Returns
    -------
    first, second : int64 arrays, shape (pairs,)
        Indices of the paired hits, in the order of the first file.
    """
    pairs: list[tuple[int, int]] = []
    for name in np.intersect1d(piece[0], piece[1]):
        mine = [np.flatnonzero(column == name) for column in piece]
        # Hits of one piece at one time have no order of their own: the softer goes first.
        mine = [
            index[np.lexsort((index, velocity[side][index], np.round(ms[side][index], _PLACES)))]
            for side, index in enumerate(mine)
        ]
        times = [np.round(ms[side][index], _PLACES) for side, index in enumerate(mine)]
        force = [velocity[side][index] for side, index in enumerate(mine)]
        paired = _heaviest_chain(*_candidates(times, force, within))
        pairs += [(int(mine[0][one]), int(mine[1][other])) for one, other in paired]
    pairs.sort()
    first, second = zip(*pairs, strict=True) if pairs else ((), ())
    return np.array(first, np.int64), np.array(second, np.int64)


def _candidates(times: list[Floats], force: list[Ints], within: float) -> tuple[Ints, Ints, Floats]:
    """Pairs that may be and what each is worth: how much less it costs than leaving both alone.

    In the order of the first hit, the second falling.
    """
    if not len(times[0]) or not len(times[1]):
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0)
    # Of hits at one time the n-th looks around the n-th.
    turn = np.arange(len(times[0])) - np.searchsorted(times[0], times[0])
    around = np.searchsorted(times[1], times[0]) + turn
    second = around[:, None] + np.arange(_NEARBY, -_NEARBY - 1, -1)
    first = np.broadcast_to(np.arange(len(times[0]))[:, None], second.shape)
    real = (second >= 0) & (second < len(times[1]))
    first, second = first[real], second[real]
    apart = np.abs(times[0][first] - times[1][second])
    louder = _VELOCITY_MS * np.abs(force[0][first] - force[1][second])
    worth = 2 * within - apart - np.minimum(louder, _VELOCITY_MOST * within)
    keep = apart < within
    return first[keep], second[keep], worth[keep]


def _heaviest_chain(first: Ints, second: Ints, worth: Floats) -> list[tuple[int, int]]:
    """Of pairs sorted by rising `first` and falling `second`, those of the heaviest rising chain.

    Kept are the ends of the best chains so far, by rising `second` and rising weight. Since
    `second` falls among pairs of one `first`, a chain can't take two of them.
    """
    ends: list[int] = []
    weights: list[float] = []
    last: list[int] = []
    came_from: list[int] = []
    for index, (end, value) in enumerate(zip(second.tolist(), worth.tolist(), strict=True)):
        at = bisect_left(ends, end)
        weight = value + (weights[at - 1] if at else 0.0)
        came_from.append(last[at - 1] if at else -1)
        stop = at
        while stop < len(ends) and weights[stop] <= weight:
            stop += 1
        if at == len(ends) or stop > at or ends[at] != end:
            ends[at:stop], weights[at:stop], last[at:stop] = [end], [weight], [index]
    chain = []
    index = last[-1] if last else -1
    while index >= 0:
        chain.append((int(first[index]), int(second[index])))
        index = came_from[index]
    return chain[::-1]
