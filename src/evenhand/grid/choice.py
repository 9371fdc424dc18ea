"""Which grid was played: the coarsest one that explains where the hits fall.

Each place is folded into one quarter note, counted from its bar line, and each candidate fitted to
the folded places (see `mixture`). What the background does not take is the share that the grid
explains: strewn hits score near 0 under any grid, however fine. A finer grid must pay for its lines
(`_PRICE`) with a better likelihood.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeAlias

import numpy as np

from evenhand.columns import Floats, Ints, indices
from evenhand.grid.lines import STRAIGHT, Grid, parse_grid
from evenhand.grid.mixture import Comb, comb, fit_mixtures

#: The candidates, coarsest first; and those that are tried where none of these explains the places
#: well.
CANDIDATES = ("1/8", "1/8T", "1/16", "1/16T", "1/32")
RARE = ("1/16Q", "1/16S")

#: Fewest places that a choice can rest on.
FEWEST = 8

# A grid that only leaves out lines of another is no rival to it: on it nothing would be drawn
# to a wrong line.
_PARTS_OF: dict[str, tuple[str, ...]] = {
    "1/8": (),
    "1/8T": (),
    "1/16": ("1/8",),
    "1/16T": ("1/8", "1/8T"),
    "1/32": ("1/8", "1/16"),
    "1/16Q": (),
    "1/16S": (),
}

# Bins that a quarter note is folded into.
_BINS = 240
_EDGES = np.linspace(0.0, 1.0, _BINS + 1)
# Parts of a take that are fitted side by side.
_AT_ONCE = 8
# What each further line in a quarter must add to the mean log-likelihood per place.
_PRICE = 0.025
# What it costs to leave all places to the background: a grid is there to explain.
_LEFT_OVER = 0.7
# Swing is told from straight where the second line is this far out, percent points.
_SWUNG = 2.5
_SWINGING = ("1/8", "1/16")
_SWING_STARTS = (56.0, 64.0, 72.0)

# Shares explained (percent): below the first no grid explains the places, below the second there
# is doubt; and a rival is near if its score is within this much.
NOTHING, DOUBTFUL = 60.0, 75.0
_NEAR = 0.03
# A grid shows only if it beats an even field by this much (mean log-likelihood per place) and by
# this much for each of its parameters (twice the log-likelihood: Wilks 1938, Ann. Math. Stat. 9,
# 60-62, would give 1 by chance); up to the third number there is doubt.
_SHOWN, _SURELY, _FAINT = 0.03, 4.0, 0.12


@dataclass(frozen=True)
class Choice:
    """The grid that was chosen, with its evidence.

    Attributes
    ----------
    grid : str or None
        One of `CANDIDATES` or `RARE`; None where none explains the places.
    swing : float
        Percent of a pair; 50 is straight.
    explained : dict of str to float
        Share of the places that each candidate explains beyond chance, percent.
    swings : dict of str to float
        The swing that fits best under each candidate.
    places : int
        How many places it rests on.
    doubt : str
        Why it may be wrong, in words; empty if there is little doubt.
    """

    grid: str | None
    swing: float
    explained: dict[str, float]
    swings: dict[str, float]
    places: int
    doubt: str

    @property
    def lines(self) -> Grid | None:
        """The grid with its swing; None where there is none."""
        return parse_grid(self.grid, self.swing) if self.grid else None

    @property
    def words(self) -> str:
        """`1/16`, `1/8 swing 64 %` or `none`."""
        if not self.grid:
            return "none"
        return self.grid if self.swing == STRAIGHT else f"{self.grid} swing {self.swing:g} %"

    def taken_over(self, places: int) -> "Choice":
        """The same choice for a section that has too few hits of its own to go by."""
        return replace(self, places=places)


@dataclass(frozen=True)
class _Fit:
    swing: float
    explained: float
    shown: float
    fitting: float
    score: float


#: The best fit of each candidate.
Fits: TypeAlias = dict[str, _Fit]


def choose_grid(place: Floats, quarter_ms: float, *, swing: float | None = None) -> Choice:
    """Choose the grid for some places.

    Parameters
    ----------
    place : float64 array, shape (n,)
        Quarter notes from the bar line that each place follows.
    quarter_ms : float
        Length of a quarter note, ms.
    swing : float, optional
        Percent of a pair, if it is known; otherwise it is found.
    """
    (fits,) = fit_candidates([place], [quarter_ms], swing)
    return decide(fits, len(place))


def fit_candidates(
    parts: Sequence[Floats], quarter_ms: Sequence[float], swing: float | None
) -> list[Fits]:
    """Fit every candidate to the places of each part of a take (see `choose_grid`).

    Where none of them explains the places well, the rare ones are fitted too; a part with too few
    places gets no fits.

    Parameters
    ----------
    parts : sequence of float64 arrays
        The places of each part.
    quarter_ms : sequence of float
        Length of a quarter note in each, ms.
    swing : float, optional
        Percent of a pair, if it is known.
    """
    fits = _fit_all(CANDIDATES, parts, quarter_ms, swing)
    poor = [
        at
        for at, one in enumerate(fits)
        if one and max(one.values(), key=lambda fit: fit.score).explained < DOUBTFUL
    ]
    return also_rare(fits, poor, parts, quarter_ms, swing)


def also_rare(
    fits: list[Fits],
    which: Sequence[int],
    parts: Sequence[Floats],
    quarter_ms: Sequence[float],
    swing: float | None,
) -> list[Fits]:
    """Add the rare candidates to the fits of some parts.

    Parameters
    ----------
    fits : list of dict
        From `fit_candidates`, with whose other arguments the last three are one.
    which : sequence of int
        Those parts.
    """
    rare = _fit_all(RARE, [parts[at] for at in which], [quarter_ms[at] for at in which], swing)
    more = dict(zip(which, rare, strict=True))
    return [one | more.get(at, {}) for at, one in enumerate(fits)]


def _fit_all(
    candidates: tuple[str, ...],
    parts: Sequence[Floats],
    quarter_ms: Sequence[float],
    swing: float | None,
) -> list[Fits]:
    """Fit some candidates to each part, some parts at a time: memory stays in bounds."""
    enough = [at for at, place in enumerate(parts) if len(place) >= FEWEST]
    fits: list[Fits] = [{} for _ in parts]
    names, lines = _tries(candidates, swing)
    price = _price(lines)
    for first in range(0, len(enough), _AT_ONCE):
        some = enough[first : first + _AT_ONCE]
        count = np.array([_folded(parts[at]) for at in some])
        filled = indices(count.sum(axis=0))
        phase, weight = (filled + 0.5) / _BINS, count[:, filled] / count.sum(axis=1)[:, None]
        quarters = np.array([quarter_ms[at] for at in some])
        mixtures = fit_mixtures(phase, weight, lines, quarters, price)
        for row, at in enumerate(some):
            own = (mixtures.swing[row], mixtures.noise[row], mixtures.mean[row])
            columns = (column.tolist() for column in (lines.count, lines.free, price, *own))
            tries: dict[str, list[_Fit]] = {}
            for name, *mixture in zip(names, *columns, strict=True):
                tries.setdefault(name, []).append(_weighed(len(parts[at]), *mixture))
            fits[at] = {name: _best(*its) for name, its in tries.items()}
    return fits


def _folded(place: Floats) -> Ints:
    """How many places lie in each bin of a quarter: `np.histogram` in a fifth of its time."""
    within = place % 1.0
    at = np.minimum((within * _BINS).astype(np.int64), _BINS - 1)
    at -= within < _EDGES[at]
    at += (within >= _EDGES[at + 1]) & (at < _BINS - 1)
    return np.bincount(at, minlength=_BINS)


@lru_cache
def _tries(candidates: tuple[str, ...], swing: float | None) -> tuple[tuple[str, ...], Comb]:
    """What is fitted: each candidate straight, and some with swing that is to be found."""
    tries = [(name, swing or STRAIGHT) for name in candidates]
    if swing is None:
        swinging = [name for name in _SWINGING if name in candidates]
        tries += [(name, start) for name in swinging for start in _SWING_STARTS]
    grids = [parse_grid(name, start) for name, start in tries]
    free = [swing is None and start != STRAIGHT for _, start in tries]
    return tuple(name for name, _ in tries), comb(grids, free)


def _price(lines: Comb) -> Floats:
    """What the lines of each grid, and a swing that was looked for, must add to the likelihood."""
    return np.asarray(_PRICE * (lines.count + lines.free), np.float64)


def _weighed(places: int, count: int, free: bool, price: float, *mixture: float) -> _Fit:
    """One fit with its score; of the mixture its swing, its noise and its mean."""
    swing, noise, mean = mixture
    # The number of free parameters costs as in Schwarz 1978 (Ann. Stat. 6(2), 461-464).
    parameters = count + 2 + free
    fitting = mean - _LEFT_OVER * noise
    score = fitting - price - 0.5 * parameters * math.log(places) / places
    # Wide bells side by side make nearly an even field: only what beats one counts.
    shows = mean > _SHOWN and 2 * places * mean > _SURELY * parameters
    return _Fit(swing, 100 * (1 - noise) * shows, mean, fitting, score)


def _best(straight: _Fit, *swung: _Fit) -> _Fit:
    """The best fit of one candidate; swung only if it is clearly so."""
    best = max((straight, *swung), key=lambda one: one.score)
    return best if swung and best.swing >= STRAIGHT + _SWUNG else straight


def decide(fits: dict[str, _Fit], places: int, take: str = "") -> Choice:
    """Pick the best of the fitted candidates, or the one to `take` in any case."""
    if not fits:
        return Choice(None, STRAIGHT, {}, {}, places, f"fewer than {FEWEST} hits to go by")
    explained = {name: round(fit.explained, 1) for name, fit in fits.items()}
    swings = {name: round(fit.swing, 1) for name, fit in fits.items()}
    ranked = sorted(fits, key=lambda name: -fits[name].score)
    if take:
        ranked.sort(key=lambda name: name != take)
    best, second = ranked[:2]
    share = explained[best]
    if share < NOTHING:
        doubt = f"the best, {best}, explains only {share:.0f} % of the hits"
        return Choice(None, STRAIGHT, explained, swings, places, doubt)
    doubts = []
    if fits[best].shown < _FAINT:
        doubts.append("it hardly shows: the hits are loose, or lines too close for them")
    if share < DOUBTFUL:
        doubts.append(f"it explains only {share:.0f} % of the hits")
    nested = swings[best] == STRAIGHT and second in _PARTS_OF[best]
    if fits[best].score - fits[second].score < _NEAR and not nested:
        doubts.append(f"{second} explains them nearly as well")
    if places < 4 * FEWEST:
        doubts.append(f"there are only {places} hits to go by")
    return Choice(best, swings[best], explained, swings, places, "; ".join(doubts))
