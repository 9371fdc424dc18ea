"""Two rows of places laid beside each other in order: which one of one is which of the other.

Of all ways to pair them without crossing, the one is taken in which most lies nearest: each pair
counts by how much nearer than the limit its two places are (the heaviest common subsequence; after
Needleman & Wunsch 1970, J. Mol. Biol. 48(3), from memory). So a roll is paired stroke by stroke,
although each of its strokes may lie nearer to the next one of the other take.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from typing import NamedTuple

_Pair = tuple[int, int]


class Row(NamedTuple):
    """Places in ascending order, and of which of two kinds each is."""

    places: Sequence[float]
    kinds: Sequence[bool]


class _Chain(NamedTuple):
    pair: _Pair
    before: "_Chain | None"


def pair_in_order(rows: Row, columns: Row, within: float) -> list[_Pair]:
    """Pair two rows of places.

    Parameters
    ----------
    rows, columns : Row
    within : float
        What is further apart is no pair; a pair of two kinds counts half.

    Returns
    -------
    list of (int, int)
        Indices, ascending in both.
    """
    one, other = rows.places, columns.places
    # The best sum of pairs so far that end before each column, and the last pair of each, as a
    # chain; known up to column `known`, behind which all are like the last.
    best: list[float] = [0.0] * (len(other) + 1)
    chains: list[_Chain | None] = [None] * (len(other) + 1)
    known = 0
    for row, place in enumerate(one):
        low, high = bisect_left(other, place - within), bisect_right(other, place + within)
        for column in range(known + 1, high + 1):
            best[column], chains[column] = best[known], chains[known]
        known = max(known, high)
        found = []
        for column in range(low, high):
            gain = within - abs(place - other[column])
            if rows.kinds[row] != columns.kinds[column]:
                gain /= 2
            found.append((best[column] + gain, column, chains[column]))
        for total, column, chain in found:
            for behind in range(column + 1, known + 1):
                if best[behind] >= total:
                    break
                best[behind], chains[behind] = total, _Chain((row, column), chain)
    pairs: list[_Pair] = []
    link = chains[known]
    while link:
        pairs.append(link.pair)
        link = link.before
    return pairs[::-1]
