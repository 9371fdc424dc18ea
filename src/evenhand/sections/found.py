"""Where the sections of a take begin: at its markers, or where the pattern changes."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from evenhand.columns import Floats, Ints, clipped, numbered
from evenhand.kit import GHOST
from evenhand.sections.sections import AUTO, EARLY, MARKERS, NONE, WHOLE, Sections
from evenhand.take import Hits, MeterMap, Take

#: Type of a marker among the meta events (RP-001).
_MARKER = 0x06
_LONGEST_NAME = 40
#: No take has more sections than that; markers of every bar or beat mark none.
MOST_MARKED = 160

# How a bar is described: so many slots, blurred over their neighbours, for each group of pieces;
# and how much each group says about which section this is. Fills and crashes say little.
_SLOTS = 16
_BLUR = 0.6
_GROUPS = {"kick": 0, "snare": 1, "side stick": 1, "hat": 2, "ride": 3, "cowbell": 3}
_GROUPS |= dict.fromkeys(("crash", "china", "splash"), 4)
_REST, _GHOST = 5, 6
_WEIGHTS = np.array([1, 1, 0.5, 0.5, 0.3, 0.5, 0.5, 0.5])
# What becomes of a hit in each slot: a bell around it, in a circle.
_SMOOTH = np.exp(-2 * (np.pi * np.fft.rfftfreq(_SLOTS) * _BLUR) ** 2)
_BLURRED = np.fft.irfft(np.fft.rfft(np.eye(_SLOTS)) * _SMOOTH, _SLOTS)
# What a boundary must save: a fixed part, and a share of what differs in the whole take, so that
# long takes do not fall to pieces. Set on the tuning part of the takes (docs/assess.md).
_PRICE, _PRICE_SHARE = 0.5, 0.05
#: Fewest bars in a section, and in a take that is divided.
SHORTEST, _DIVIDED = 4, 8
# The last bar of a section may be a fill: it counts this much.
_LAST = 0.3
# Sections are alike where the cosine of their patterns is at least this.
_ALIKE = 0.9
# Bars to each one that is played, at the most: memory is bounded by what is in the file.
_EMPTIEST = 16
# Bars beyond this are put together in pairs, fours and so on, so that time stays in bounds.
_MOST_BARS = 1200
# Ends and beginnings of stretches that are weighed at once: larger products would be split over
# processors, for worse.
_ENDS, _BEGINNINGS = 32, 64
# Bars whose patterns are made at a time.
_AT_A_TIME = 1024


def find_sections(take: Take, tick: Floats, hits: Hits, source: str) -> Sections:
    """Find the sections of a take.

    Parameters
    ----------
    take : Take
    tick : float64 array, shape (hits,)
        When each hit sounds.
    hits : Hits
        With pieces and roles named.
    source : str
        One of `SECTION_SOURCES`.
    """
    if source == NONE:
        return _sections(take, tick, _Found("the take as a whole"))
    marked = _from_markers(take)
    many = marked is not None and len(marked.names) > MOST_MARKED
    if marked and not many:
        return _sections(take, tick, marked)
    if source == MARKERS:
        why = "its markers are too many to be sections" if many else "there are no markers in it"
        return _sections(take, tick, _Found(f"the take as a whole: {why}"))
    assert source == AUTO
    return _sections(take, tick, _from_pattern(tick, hits, take.meter))


@dataclass(frozen=True)
class _Found:
    """How sections were found, and each with its first bar and its name; none if there is one."""

    how: str
    names: tuple[tuple[int, str], ...] = ()


def _sections(take: Take, tick: Floats, found: _Found) -> Sections:
    meter = take.meter
    bar = np.array([number for number, _ in found.names] or [1], np.int64)
    return Sections(
        begin=_bar_starts(bar, meter),
        bar=bar,
        # What ends on a bar line does not open a bar, but for a hit.
        last=max(
            meter.position(max(take.end - 1, 0)).bar,
            int(meter.bars_at(float(tick.max())).number),
        ),
        early=meter.division / EARLY,
        name=tuple(name for _, name in found.names) or (WHOLE,),
        source=found.how,
    )


def _from_markers(take: Take) -> _Found | None:
    """One section per marker, at the nearest bar line; None without markers."""
    names: dict[int, str] = {}
    markers = [marker for track in take.smf.tracks for marker in track.metas(_MARKER)]
    if not markers:
        return None
    tick = np.array([at for at, _ in markers], np.float64)
    bars = take.meter.bars_at(tick)
    nearest = bars.number + (tick - bars.start > bars.stop - tick)
    for bar, (_, text) in zip(nearest.tolist(), markers, strict=True):
        names[bar] = _name(text) or f"bar {bar}"
    if min(names) > 1:
        names[1] = "start"
    return _Found("from the markers in the file", tuple(sorted(names.items())))


def _name(text: bytes) -> str:
    try:
        name = text.decode("utf-8")
    except UnicodeDecodeError:
        name = text.decode("latin-1")
    return " ".join(name.split())[:_LONGEST_NAME]


def _from_pattern(tick: Floats, hits: Hits, meter: MeterMap) -> _Found:
    """Sections where the pattern changes."""
    number = meter.bars_at(tick).number
    if np.ptp(number) > _EMPTIEST * (len(numbered(number)[0]) + _DIVIDED):
        return _Found("the take as a whole: most of its bars are empty")
    bar, patterns, step = patterns_of_bars(tick, hits, meter, _MOST_BARS)
    if len(patterns) * step < _DIVIDED:
        return _Found("the take as a whole: it has too few bars to divide")
    edges = np.arange(len(patterns)) * step
    begins = divide(patterns)
    patterns = _unit(patterns)
    names = name_alike(
        [patterns[one:other] for one, other in zip(begins, [*begins[1:], None], strict=True)]
    )
    if len(begins) == 1:
        return _Found("the take as a whole: the pattern does not change")
    numbers = bar + edges[begins]
    numbers[0] = min(1, int(numbers[0]))
    each = zip(numbers.tolist(), names, strict=True)
    return _Found("found where the pattern changes", tuple(each))


def patterns_of_bars(
    tick: Floats, hits: Hits, meter: MeterMap, most: int
) -> tuple[int, Floats, int]:
    """What is played where: the first bar, a row for each step of bars, and the step.

    The step is one bar, and more where there would be more than `most` rows.
    """
    # Half a slot of grace, so that an early downbeat counts for its own bar.
    bars = meter.bars_at(tick)
    length = np.maximum(bars.stop - bars.start, 1.0)
    bars = meter.bars_at(tick + 0.49 * length / _SLOTS)
    length = np.maximum(bars.stop - bars.start, 1.0)
    slot = clipped(np.rint((tick - bars.start) / length * _SLOTS), 0, _SLOTS - 1).astype(np.int64)
    names, index = hits.by_piece
    group = np.array([_GROUPS.get(str(name), _REST) for name in names])[index]
    group = np.where(hits.role == GHOST, _GHOST, group)
    first = int(bars.number.min())
    many = int(bars.number.max()) - first + 1
    step = -(-many // most)
    order = np.argsort(bars.number, kind="stable")
    number = (bars.number - first)[order]
    group, slot, weight = group[order], slot[order], np.sqrt(hits.velocity / 127)[order]
    rows = np.zeros((-(-many // step), len(_WEIGHTS) * _SLOTS))
    # Some bars at a time, and only those with hits: a table of all would grow with the hours.
    portion = step * max(_AT_A_TIME // step, 1)
    edges = np.searchsorted(number, np.arange(0, many + portion, portion)).tolist()
    for begin, end in pairwise(edges):
        if begin < end:
            here = slice(begin, end)
            played, which = numbered(number[here])
            table = _table(len(played), (which, group[here], slot[here]), weight[here])
            row, starts = np.unique(played // step, return_index=True)
            rows[row] = np.add.reduceat(table, starts, axis=0)
    return first, rows, step


def _table(bars: int, where: tuple[Ints, Ints, Ints], weight: Floats) -> Floats:
    """A row for each bar: what is played where, blurred by a part of a slot."""
    table = np.zeros((bars, len(_WEIGHTS), _SLOTS))
    np.add.at(table, where, weight)
    table = np.minimum(table, 1.2)
    # Hat and ride count apart, and once more together: the hand goes on where the cymbal changes.
    table[:, -1] = table[:, 2] + table[:, 3]
    table = np.maximum(table @ _BLURRED, 0)
    return np.asarray((table * _WEIGHTS[:, None]).reshape(bars, -1))


def _unit(rows: Floats) -> Floats:
    return np.asarray(rows / np.maximum(np.linalg.norm(rows, axis=1, keepdims=True), 0.5))


def divide(patterns: Floats) -> list[int]:
    """Divide a row of bars so that bars are alike inside and boundaries are few.

    The division of least cost is found exactly, by dynamic programming (optimal partitioning:
    Jackson et al. 2005, IEEE Signal Process. Lett. 12(2), 105-108): the squared distances of bars
    to the mean of their section, and a price for each boundary. This sees whole sections, where a
    novelty curve (Foote 2000, "Automatic audio segmentation using a measure of audio novelty",
    ICME) sees a few bars around each boundary.

    Parameters
    ----------
    patterns : float64 array, shape (bars, values)
        As from `patterns_of_bars`; only what is played where counts, not how much.

    Returns
    -------
    list of int
        The first bar of each section, beginning with 0.
    """
    patterns = _unit(patterns)
    count = len(patterns)
    # Value by value, along the bars: sums run in order of memory, as all that follows does.
    sums = np.zeros((patterns.shape[1], count + 1))
    np.cumsum(patterns.T, axis=1, out=sums[:, 1:])
    own = (patterns * patterns).sum(axis=1)
    squares = np.concatenate(([0.0], own.cumsum()))
    length = (sums * sums).sum(axis=0)
    price = _PRICE + _PRICE_SHARE * float(squares[-1] - length[-1] / count)
    best = np.full(count + 1, np.inf)
    best[0] = -price
    came = np.zeros(count + 1, np.int64)
    # The sums up to the bar that is looked at, times those up to each beginning.
    inner, known = np.zeros(count + 1), 0
    for block in range(SHORTEST, count + 1, _ENDS):
        stop = min(block + _ENDS, count + 1)
        many = stop - SHORTEST
        last = slice(block - 1, stop - 1)
        # Stretches that are too short are never looked at.
        share = 1 / np.maximum(np.arange(block, stop)[:, None] - np.arange(1, many + 1), 1)
        # Squared length of the sum of the bars from each beginning on, and its share along the
        # last bar, by products alone: the difference itself would be most of the time. So is each
        # further operation, of which there are few. The cost of a stretch is
        #   inside + _LAST * fill + price, with
        #   inside = squares[last] - squares[begin] - total / bars
        #   fill = |bar|^2 - 2 * along / bars + total / bars^2
        bar, until = patterns[last], sums[:, last].T
        inner[known:many] = until[0] @ sums[:, known:many]
        known = many
        inners = np.empty((len(bar) + 1, many))
        inners[0] = inner[:many]
        for begin in range(0, many, _BEGINNINGS):
            some = slice(begin, min(begin + _BEGINNINGS, many))
            np.matmul(bar, sums[:, some], out=inners[1:, some])
        along = (until * bar).sum(axis=1)[:, None] - inners[1:]
        inners.cumsum(axis=0, out=inners)
        inner[:many] = inners[-1]
        total = -2 * inners[:-1]
        total += length[:many]
        total += length[last][:, None]
        cost = total * share
        along *= 2
        cost -= along
        cost *= _LAST
        cost -= total
        cost *= share
        cost -= squares[:many]
        cost += (squares[last] + _LAST * own[last] + price)[:, None]
        for row, one in zip(cost, range(block, stop), strict=True):
            dear = best[: one - SHORTEST + 1] + row[: one - SHORTEST + 1]
            came[one] = at = dear.argmin()
            best[one] = dear[at]
    begins = [count]
    while begins[-1] > 0:
        begins.append(int(came[begins[-1]]))
    return begins[:0:-1]


def name_alike(sections: list[Floats]) -> tuple[str, ...]:
    """Name sections A, B, C … in the order in which their patterns first occur.

    Parameters
    ----------
    sections : list of float64 arrays, shape (bars, values)
    """
    kinds: list[Floats] = []
    names = []
    for bars in sections:
        body = bars[:-1] if len(bars) > SHORTEST else bars
        mean = body.mean(axis=0)
        mean = mean / max(float(np.linalg.norm(mean)), 1e-9)
        likeness = [float(mean @ kind) for kind in kinds]
        kind = int(np.argmax(likeness)) if likeness else -1
        if kind < 0 or likeness[kind] < _ALIKE:
            kinds.append(mean)
            kind = len(kinds) - 1
        names.append(_letter(kind))
    return tuple(names)


def _letter(number: int) -> str:
    """Count in letters: A to Z, then AA, AB and so on."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _bar_starts(numbers: Ints, meter: MeterMap) -> Floats:
    here = np.maximum(np.searchsorted(meter.bar, numbers, side="right") - 1, 0)
    length = meter.beats[here] * 4.0 * meter.division / meter.unit[here]
    return np.asarray(meter.tick[here] + (numbers - meter.bar[here]) * length)
