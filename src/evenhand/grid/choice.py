"""Which grid was played: the coarsest one that explains where the hits fall.

Each place is folded into one quarter note, counted from its bar line. Under a candidate grid the
folded places are a mixture of one bell per line (own weights, one common width, one common lean)
and an even background of what belongs to no line. The mixture is fitted by
expectation-maximisation (Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B 39(1), 1-38). What the
background does not take is the share that the grid explains: strewn hits score near 0 under any
grid, however fine. A finer grid must pay for its lines (`_PRICE`) with a better likelihood.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Floats
from evenhand.grid.lines import STRAIGHT, Grid, parse_grid

#: The candidates, coarsest first.
CANDIDATES = ("1/8", "1/8T", "1/16", "1/16T", "1/32")

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
}

# Bins that a quarter note is folded into, and rounds of fitting.
_BINS = 240
_ROUNDS = 24
# A fit has settled when a round adds less than this to the mean log-likelihood per place.
_SETTLED = 1e-5
_ROOT = math.sqrt(2 * math.pi)
# Width of the bells, ms: the spread inside the takes by professionals of the Groove MIDI Dataset
# is 14 to 33 ms from the tenth to the ninetieth percentile. No wider than this share of the gap.
_NARROWEST, _WIDEST = 5.0, 35.0
_WIDEST_SHARE = 0.28
# The common lean stays within this share of the gap: beyond it, it would be another line.
_LEAN_SHARE = 0.25
# What each further line in a quarter must add to the mean log-likelihood per place.
_PRICE = 0.025
# What it costs to leave all places to the background: a grid is there to explain.
_LEFT_OVER = 0.7
# Swing is told from straight where the second line is this far out, percent points.
_SWUNG = 2.5
_SWING_RANGE = (50.0, 78.0)
_SWING_STARTS = (56.0, 64.0, 72.0)

# Shares explained (percent): below the first no grid explains the places, below the second there
# is doubt; and a rival is near if its score is within this much.
NOTHING, DOUBTFUL = 50.0, 75.0
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
        One of `CANDIDATES`; None where none explains the places.
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
    fits = fit_candidates(place, quarter_ms, swing) if len(place) >= FEWEST else {}
    return decide(fits, len(place))


def fit_candidates(place: Floats, quarter_ms: float, swing: float | None) -> dict[str, _Fit]:
    """Fit every candidate to some places (see `choose_grid`)."""
    count, _ = np.histogram(place % 1.0, bins=_BINS, range=(0.0, 1.0))
    filled = np.flatnonzero(count)
    phase, weight = (filled + 0.5) / _BINS, count[filled] / count.sum()
    fits = {}
    for name in CANDIDATES:
        grid = parse_grid(name)
        starts = [swing or STRAIGHT]
        if swing is None and not grid.triplet and grid.unit < 32:
            starts += _SWING_STARTS
        tries = [
            _fit(phase, weight, len(place), grid, start, quarter_ms, free=swing is None)
            for start in starts
        ]
        straight, *swung = tries
        best = max(tries, key=lambda one: one.score)
        fits[name] = best if swung and best.swing >= STRAIGHT + _SWUNG else straight
    return fits


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


def _fit(
    phase: Floats,
    weight: Floats,
    places: int,
    grid: Grid,
    swing: float,
    quarter_ms: float,
    free: bool,
) -> _Fit:
    """Fit the mixture of one candidate; `free` lets a swing that does not start straight move."""
    free = free and swing != STRAIGHT
    count = round(float(grid.unit) * (1.5 if grid.triplet else 1.0)) // 4
    gap = 1.0 / count
    widest = min(_WIDEST / quarter_ms, _WIDEST_SHARE * gap)
    narrowest = min(_NARROWEST / quarter_ms, widest)
    width, lean, noise = widest, 0.0, 0.2
    share = np.full(count, (1 - noise) / count)
    second = np.arange(count) % 2 == 1
    mean = -math.inf
    even = np.arange(count) * gap
    # This loop is most of the work of an automatic grid: few and small operations.
    for _ in range(_ROUNDS):
        line = even if grid.triplet else even + second * ((swing / 50 - 1) * gap)
        off = phase[:, None] - (line + lean)
        off -= np.rint(off)
        square = off * off
        bell = np.exp(square * (-0.5 / width**2)) * (share / (width * _ROOT))
        total = bell.sum(axis=1) + noise
        before, mean = mean, float(weight @ np.log(total))
        part = weight / total
        share = part @ bell
        taken = max(float(share.sum()), 1e-9)
        noise = max(1.0 - float(share.sum()), 1e-3)
        width = math.sqrt(float((part @ (bell * square)).sum()) / taken)
        width = min(max(width, narrowest), widest)
        pull = part @ (bell * off)
        if free:
            drawn = float(pull[second].sum() / max(share[second].sum(), 1e-9))
            swing = min(max(swing + drawn * 50 / gap, _SWING_RANGE[0]), _SWING_RANGE[1])
            lean += float(pull[~second].sum() / max(share[~second].sum(), 1e-9))
        else:
            lean += float(pull.sum()) / taken
        lean = min(max(lean, -_LEAN_SHARE * gap), _LEAN_SHARE * gap)
        if abs(mean - before) < _SETTLED:
            break
    # The number of free parameters costs as in Schwarz 1978 (Ann. Stat. 6(2), 461-464).
    parameters = count + 2 + free
    fitting = mean - _LEFT_OVER * noise
    score = fitting - _PRICE * (count + free) - 0.5 * parameters * np.log(places) / places
    # Wide bells side by side make nearly an even field: only what beats one counts.
    shows = mean > _SHOWN and 2 * places * mean > _SURELY * parameters
    return _Fit(swing, 100 * (1 - noise) * shows, mean, fitting, float(score))
