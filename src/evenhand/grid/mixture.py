"""How grids explain some places: mixtures of bells on their lines over an even background.

Places are folded into one quarter note. Under a grid they are a mixture of one bell per line (own
weights, one common width, one common lean) and an even background of what belongs to no line. The
mixtures are fitted by expectation-maximisation (Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B
39(1), 1-38), all grids side by side and the lines of all in one column: the price of a round is
the number of its operations rather than their size.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.grid.lines import Grid

# Rounds of fitting. A fit has settled when a round adds less than this to the mean log-likelihood
# per place.
_ROUNDS = 24
_SETTLED = 1e-5
_ROOT = np.sqrt(2 * np.pi)
# Width of the bells, ms: the spread inside the takes by professionals of the Groove MIDI Dataset
# is 14 to 33 ms from the tenth to the ninetieth percentile. No wider than this share of the gap.
_NARROWEST, _WIDEST = 5.0, 35.0
_WIDEST_SHARE = 0.28
# The common lean stays within this share of the gap: beyond it, it would be another line.
_LEAN_SHARE = 0.25
# The background at the start, and the least that is left of it.
_NOISE, _LEAST_NOISE = 0.2, 1e-3
# The least weight that is divided by.
_LEAST = 1e-9
_SWING_RANGE = (50.0, 78.0)


@dataclass(frozen=True, eq=False)
class Comb:
    """The lines in a quarter note of f grids, one after the other, l in all.

    Attributes
    ----------
    count : int64 array, shape (f,)
        Lines of each grid.
    swing : float64 array, shape (f,)
        In percent.
    free : bool array, shape (f,)
        Whether the swing is found from there on.
    owner : int64 array, shape (l,)
        The grid that each line is of.
    line : float64 array, shape (l,)
        Where it lies, in quarter notes; of those that the swing moves, where they lie without.
    second : bool array, shape (l,)
        Which lines the swing moves.
    """

    count: Ints
    swing: Floats
    free: Bools
    owner: Ints
    line: Floats
    second: Bools


def comb(grids: Sequence[Grid], free: Sequence[bool]) -> Comb:
    """Lay out the lines of some grids, of which the swing of some is to be found."""
    count = [grid.unit * (3 if grid.triplet else 2) // 8 for grid in grids]
    each = [np.arange(many) for many in count]
    line = [
        np.arange(many) / many if moves else grid.offset(np.arange(many), 1)
        for grid, many, moves in zip(grids, count, free, strict=True)
    ]
    owner = np.repeat(np.arange(len(grids)), count)
    return Comb(
        count=np.array(count),
        swing=np.array([grid.swing for grid in grids]),
        free=np.array(free),
        owner=owner,
        line=np.concatenate(line),
        second=(np.concatenate(each) % 2 == 1) & np.array(free)[owner],
    )


@dataclass(frozen=True, eq=False)
class Mixtures:
    """What came of the fit of f grids.

    Attributes
    ----------
    swing : float64 array, shape (f,)
        In percent.
    noise : float64 array, shape (f,)
        Share of the background.
    mean : float64 array, shape (f,)
        Mean log-likelihood of a place.
    """

    swing: Floats
    noise: Floats
    mean: Floats


def fit_mixtures(phase: Floats, weight: Floats, lines: Comb, quarter_ms: float) -> Mixtures:
    """Fit a mixture to some places for each grid.

    Parameters
    ----------
    phase : float64 array, shape (n,)
        Where the places lie in a quarter note, 0 to 1.
    weight : float64 array, shape (n,)
        Share of the places that lie there; sums to 1.
    lines : Comb
    quarter_ms : float
        Length of a quarter note, ms.
    """
    found = Mixtures(*np.zeros((3, len(lines.count))))
    # The grids that have not settled yet, and their lines.
    at, owner, line, moves = np.arange(len(lines.count)), lines.owner, lines.line, lines.second
    free, gap, swing = lines.free, 1.0 / lines.count, lines.swing
    widest = np.minimum(_WIDEST / quarter_ms, _WIDEST_SHARE * gap)
    narrowest = np.minimum(_NARROWEST / quarter_ms, widest)
    width, lean = widest, np.zeros(len(at))
    noise, mean = np.full(len(at), _NOISE), np.full(len(at), -np.inf)
    share = (1 - _NOISE) * gap[owner]
    of = (owner == at[:, None]).astype(np.float64)
    ones = np.ones(len(phase))
    for left in reversed(range(_ROUNDS)):
        # This loop is most of the work of an automatic grid: few operations, little new memory.
        place = line + (lean[owner] + moves * ((swing / 50 - 1) * gap)[owner])
        off = phase - place[:, None]
        off -= np.rint(off)
        bell = off * off
        bell *= (-0.5 / width**2)[owner, None]
        np.exp(bell, out=bell)
        bell *= (share / (width * _ROOT)[owner])[:, None]
        total = of @ bell
        total += noise[:, None]
        before, mean = mean, np.log(total) @ weight
        bell *= (weight / total)[owner]
        share = bell @ ones
        bell *= off
        pull = bell @ ones
        bell *= off
        sums = np.array([share, pull, bell @ ones, moves * share, moves * pull]) @ of.T
        taken, pulled, spread, taken_second, pulled_second = sums
        noise = np.maximum(1.0 - taken, _LEAST_NOISE)
        width = np.sqrt(spread / np.maximum(taken, _LEAST))
        width = np.minimum(np.maximum(width, narrowest), widest)
        drawn = pulled_second / np.maximum(taken_second, _LEAST) * (50 / gap)
        drawn = np.minimum(np.maximum(swing + drawn, _SWING_RANGE[0]), _SWING_RANGE[1])
        swing = np.where(free, drawn, swing)
        # What the swing takes up is none of the lean.
        lean = lean + (pulled - pulled_second) / np.maximum(taken - taken_second, _LEAST)
        lean = np.minimum(np.maximum(lean, -_LEAN_SHARE * gap), _LEAN_SHARE * gap)
        done = np.abs(mean - before) < _SETTLED if left else np.ones(len(at), np.bool_)
        if not done.any():
            continue
        found.swing[at[done]], found.noise[at[done]] = swing[done], noise[done]
        found.mean[at[done]] = mean[done]
        if done.all():
            break
        rest = ~done
        at, free, gap, widest, narrowest, swing, lean, width, noise, mean = (
            one[rest] for one in (at, free, gap, widest, narrowest, swing, lean, width, noise, mean)
        )
        kept = rest[owner]
        of, owner = of[np.ix_(rest, kept)], (np.cumsum(rest) - 1)[owner[kept]]
        line, moves, share = line[kept], moves[kept], share[kept]
    return found
