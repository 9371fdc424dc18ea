"""Spans: strokes that err alike move together, by as little as possible, in as few as possible.

The task: each stroke has an interval of admissible shifts (every amount that brings it into its
window). Find the shifts, one per stroke, that minimise

    span_cost × (number of spans) + Σ |shift|

where a span is a run of neighbouring strokes with one and the same shift other than 0.
"""

import math

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.recipe import SPAN_COST

# No span has more strokes than this: time stays linear in the strokes.
_LONGEST = 1000


def find_spans(low: Floats, high: Floats, span_cost: float | Floats = SPAN_COST) -> Floats:
    """Find the cheapest piecewise-constant shift, exactly, of spans of up to a thousand strokes.

    Within a span the cheapest shift is the admissible one nearest to 0, so the cost of a span is
    known from where it begins and ends, and the cheapest way to end a span at each stroke follows
    from those of the strokes before it: a dynamic programme (Bellman 1957, "Dynamic Programming")
    over n strokes that looks back as far as the strokes have an admissible shift in common.

    Parameters
    ----------
    low, high : float64 arrays, shape (n,)
        Least and largest admissible shift of each stroke in time order, ms; low <= high. A stroke
        that must stay has 0 for both.
    span_cost : float or float64 array, shape (n,)
        Cost of a span that begins there, ms (0 or more).

    Returns
    -------
    shift : float64 array, shape (n,)
        In ms. Where two ways are equally cheap, a stroke at their end stays rather than moves, and
        their last span is as long as it can be.
    """
    count = len(low)
    price = np.broadcast_to(np.asarray(span_cost, np.float64), count)
    best = np.zeros(count + 1)
    begin = np.zeros(count + 1, np.int64)
    amount = np.zeros(count + 1)
    # The admissible shifts that strokes start … now have in common, one entry per start. A start
    # drops out for good once nothing is left in common; those with the most strokes go first.
    common_low, common_high = np.full(count, -np.inf), np.full(count, np.inf)
    oldest = 0
    for now in range(count):
        oldest = max(oldest, now + 1 - _LONGEST)
        starts = slice(oldest, now + 1)
        np.maximum(common_low[starts], low[now], out=common_low[starts])
        np.minimum(common_high[starts], high[now], out=common_high[starts])
        feasible = common_low[starts] <= common_high[starts]
        oldest += int(np.argmax(feasible))
        starts = slice(oldest, now + 1)
        nearest = np.maximum(common_low[starts], 0.0) + np.minimum(common_high[starts], 0.0)
        strokes = np.arange(now + 1 - oldest, 0, -1)
        cost = best[starts] + price[starts] + strokes * np.abs(nearest)
        choice = int(np.argmin(cost))
        if low[now] <= 0 <= high[now] and best[now] <= cost[choice]:
            best[now + 1], begin[now + 1] = best[now], now
        else:
            best[now + 1], begin[now + 1] = cost[choice], oldest + choice
            amount[now + 1] = nearest[choice]
    shift = np.zeros(count)
    end = count
    while end:
        shift[begin[end] : end] = amount[end]
        end = int(begin[end])
    return shift


def number_spans(shift: Floats) -> Ints:
    """Number the spans from 1; 0 where nothing moves.

    Parameters
    ----------
    shift : float64 array, shape (n,)
    """
    moves = shift != 0
    begins = moves & (np.diff(shift, prepend=0.0) != 0)
    return np.asarray(np.where(moves, np.cumsum(begins), 0))


def cost_of(shift: Floats, span_cost: float = SPAN_COST) -> float:
    """What is minimised: the cost of all spans and of all movement, ms."""
    spans = int(number_spans(shift).max(initial=0))
    return span_cost * spans + math.fsum(np.abs(shift))


def fewest_spans(low: Floats, high: Floats) -> int:
    """The least number of spans that brings every stroke into its window (the floor).

    Parameters
    ----------
    low, high : float64 arrays, shape (n,)
        As in `find_spans`.
    """
    # With spans that dear, movement decides only between ways with equally many of them.
    dear = 1.0 + 2.0 * float(np.abs(np.concatenate([low, high])).sum())
    return int(number_spans(find_spans(low, high, dear)).max(initial=0))
