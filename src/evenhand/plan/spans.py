"""Spans: strokes that err alike move together, by as little as possible, in as few as possible.

The task: each stroke has an interval of admissible shifts (every amount that brings it into its
window). Find the shifts, one per stroke, that minimise

    span_cost × (number of spans) + Σ |shift|

where a span is a run of neighbouring strokes with one and the same shift other than 0.
"""

import math
from collections import deque

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
    price = np.broadcast_to(np.asarray(span_cost, np.float64), count).tolist()
    stays = ((low <= 0) & (high >= 0)).tolist()
    alone = np.maximum(np.maximum(low, -high), 0.0)
    oldest = _oldest_starts(low, high)
    best = np.zeros(count + 1)
    begin = np.zeros(count + 1, np.int64)
    moved = np.zeros(count + 1, np.bool_)
    # For each start: what it costs to begin a span there, and by how much strokes start … now must
    # move at the least. Four passes over the starts are most of the time; there are no more.
    opened, least = np.empty(count), np.zeros(count)
    strokes = np.arange(min(count, _LONGEST), 0, -1).astype(np.float64)
    for now, first in enumerate(oldest):
        before = float(best[now])
        opened[now] = before + price[now]
        need = least[first : now + 1]
        np.maximum(need, alone[now], out=need)
        cost = strokes[len(strokes) - len(need) :] * need
        cost += opened[first : now + 1]
        choice = int(cost.argmin())
        if stays[now] and before <= cost[choice]:
            best[now + 1], begin[now + 1] = before, now
        else:
            best[now + 1], begin[now + 1] = cost[choice], first + choice
            moved[now + 1] = True
    shift = np.zeros(count)
    end = count
    while end:
        span = slice(int(begin[end]), end)
        if moved[end]:
            shift[span] = max(float(low[span].max()), 0.0) + min(float(high[span].min()), 0.0)
        end = span.start
    return shift


def _oldest_starts(low: Floats, high: Floats) -> list[int]:
    """For each stroke the first one from which on all up to it have a shift in common.

    No further back than `_LONGEST`. Each stroke enters and leaves two queues once: those whose
    least shift no later one exceeds, and those whose largest no later one falls short of.
    """
    lows, highs = low.tolist(), high.tolist()
    largest: deque[int] = deque()
    smallest: deque[int] = deque()
    starts, oldest = [], 0
    for now, (one, other) in enumerate(zip(lows, highs, strict=True)):
        while largest and lows[largest[-1]] <= one:
            largest.pop()
        largest.append(now)
        while smallest and highs[smallest[-1]] >= other:
            smallest.pop()
        smallest.append(now)
        oldest = max(oldest, now + 1 - _LONGEST)
        while True:
            while largest[0] < oldest:
                largest.popleft()
            while smallest[0] < oldest:
                smallest.popleft()
            if lows[largest[0]] <= highs[smallest[0]]:
                break
            oldest = min(largest[0], smallest[0]) + 1
        starts.append(oldest)
    return starts


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
