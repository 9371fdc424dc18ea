"""The feel: limbs against each other, swing, even-ness of the timekeeper, dynamics."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, median
from evenhand.grid import Grid
from evenhand.take import Hits, MeterMap

#: Two pieces were struck together if they are no further apart, ms. Common practice: beyond it
#: they are heard as a flam, one after the other.
TOGETHER_MS = 40.0

#: Fewest pairs that a figure rests on.
FEWEST = 4

#: Where the second hit of a swung pair may lie, share of the pair: 1:1 to 4:1 with some play.
_SWING = (0.42, 0.84)


@dataclass(frozen=True)
class Limbs:
    """One piece against another where they are struck together.

    Attributes
    ----------
    one, other : str
    pairs : int
    lean : float
        Median of `one` minus `other`, ms: minus means that `one` comes first.
    spread : float
        Standard deviation, ms.
    """

    one: str
    other: str
    pairs: int
    lean: float
    spread: float


@dataclass(frozen=True)
class Swing:
    """Swing of the pairs that are played.

    Attributes
    ----------
    unit : int
        Note value of the pair's halves: 8 or 16.
    pairs : int
    percent : float
        Median place of the second hit, percent of the pair.
    ratio : float
        Long to short: 1 is straight, 2 a triplet.
    spread : float
        Standard deviation of the percent.
    short_ms : float
        Median length of the short part, ms.
    """

    unit: int
    pairs: int
    percent: float
    ratio: float
    spread: float
    short_ms: float


@dataclass(frozen=True)
class Evenness:
    """How even the timekeeper is.

    Attributes
    ----------
    piece : str
        The most played timekeeper.
    pairs : int
        Neighbouring hits it rests on.
    spread : float
        Standard deviation of its intervals against those of the lines, ms.
    """

    piece: str
    pairs: int
    spread: float


@dataclass(frozen=True)
class Dynamics:
    """Loudness of snare anchors and ghosts: median velocity and its standard deviation."""

    backbeats: int
    backbeat_velocity: float
    backbeat_spread: float
    ghosts: int
    ghost_velocity: float
    ghost_spread: float


def find_limbs(hits: Hits, ms: Floats, one: str, other: Bools, name: str) -> Limbs | None:
    """Measure a piece against others, each hit against the nearest.

    Parameters
    ----------
    hits : Hits
    ms : float64 array, shape (hits,)
    one : str
        A piece; its ghosts don't count.
    other : bool array, shape (hits,)
        The hits to measure against.
    name : str
        What to call those.
    """
    theirs = np.sort(ms[other])
    if not len(theirs):
        return None
    mine = np.sort(ms[(hits.piece == one) & (hits.role != "ghost")])
    if not len(mine):
        return None
    at = np.clip(np.searchsorted(theirs, mine), 1, max(len(theirs) - 1, 1))
    before, after = theirs[at - 1], theirs[np.minimum(at, len(theirs) - 1)]
    near = np.where(np.abs(mine - before) <= np.abs(after - mine), before, after)
    apart = (mine - near)[np.abs(mine - near) <= TOGETHER_MS]
    if len(apart) < FEWEST:
        return None
    return Limbs(one, name, len(apart), median(apart), float(apart.std()))


def find_swing(
    tick: Floats, ms: Floats, keeper: Bools, grid: Grid, meter: MeterMap
) -> Swing | None:
    """Measure swing where a timekeeper plays both halves of a pair and the next beginning.

    Parameters
    ----------
    tick, ms : float64 arrays, shape (hits,)
    keeper : bool array, shape (hits,)
        The hits of timekeepers.
    grid : Grid
        The grid there: pairs are sixteenths in a grid of sixteenths, otherwise eighths.
    meter : MeterMap
    """
    unit = 16 if grid.unit >= 16 else 8
    pair = 8.0 * meter.division / unit
    order = np.flatnonzero(keeper)[np.argsort(tick[keeper], kind="stable")]
    tick, ms = tick[order], ms[order]
    inside = (tick - meter.bars_at(tick).start) / pair
    near = np.abs(inside - np.rint(inside)) < 0.2
    begin = (
        near[:-2] & near[2:] & (np.abs(np.diff(tick)[:-1] + np.diff(tick)[1:] - pair) < 0.4 * pair)
    )
    share = (ms[1:-1] - ms[:-2]) / np.maximum(ms[2:] - ms[:-2], 1e-9)
    good = begin & (share > _SWING[0]) & (share < _SWING[1])
    if good.sum() < FEWEST:
        return None
    percent = share[good]
    middle = median(percent)
    return Swing(
        unit=unit,
        pairs=len(percent),
        percent=100 * middle,
        ratio=middle / (1 - middle),
        spread=float(100 * percent.std()),
        short_ms=median((ms[2:] - ms[1:-1])[good]),
    )


def find_evenness(hits: Hits, which: Bools, line: Floats, deviation: Floats) -> Evenness | None:
    """Measure the intervals of the most played timekeeper.

    Parameters
    ----------
    hits : Hits
    which : bool array, shape (hits,)
        The hits of timekeepers to look at.
    line, deviation : float64 arrays, shape (hits,)
        Of each hit; a deviation is NaN where it has no line.
    """
    names, counts = np.unique(hits.piece[which], return_counts=True)
    if not len(names):
        return None
    piece = str(names[np.argmax(counts)])
    mine = np.flatnonzero(which & (hits.piece == piece) & ~np.isnan(deviation))
    mine = mine[np.argsort(line[mine], kind="stable")]
    step = np.diff(line[mine])
    if not (step > 0).any():
        return None
    usual = median(step[step > 0])
    neighbours = (step > 0) & (step < 1.5 * usual)
    change = np.diff(deviation[mine])[neighbours]
    if len(change) < FEWEST:
        return None
    return Evenness(piece, len(change), float(change.std()))


def find_dynamics(hits: Hits, backbeat: Bools, ghost: Bools) -> Dynamics:
    """Compare backbeats with ghosts.

    Parameters
    ----------
    hits : Hits
    backbeat, ghost : bool arrays, shape (hits,)
    """
    loud, soft = hits.velocity[backbeat], hits.velocity[ghost]
    return Dynamics(len(loud), *_middle(loud), len(soft), *_middle(soft))


def _middle(velocity: Ints) -> tuple[float, float]:
    if not len(velocity):
        return float("nan"), float("nan")
    return median(velocity), float(velocity.std())
