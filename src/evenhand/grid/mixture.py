"""How grids explain some places: mixtures of bells on their lines over an even background.

Places are folded into one quarter note. Under a grid they are a mixture of one bell per line (own
weights, one common width, one common lean) and an even background of what belongs to no line. The
mixtures are fitted by expectation-maximisation (Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B
39(1), 1-38), all grids for all parts of a take side by side and the lines of all in one column: the
price of a round is the number of its operations rather than their size.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.grid.lines import Grid

# Rounds of fitting: on 144 parts of real takes nine choose as four hundred plain ones do but for 3.
_ROUNDS = 9
# Each round but the last two goes further than expectation-maximisation says, weights by this
# factor and widths by half as much again, which halves the rounds that it takes (Salakhutdinov &
# Roweis 2003, Proc. ICML, 664-671); no weight falls to less than this share of what it says.
_FURTHER, _LEFT_OF_SHARE = 1.8, 0.2
# After so many rounds a fit is given up whose score is so far behind the best.
_EARLY, _HOPELESS = 3, 0.3
_ROOT = np.sqrt(2 * np.pi)
# Width of the bells, ms: the spread inside the takes by professionals of the Groove MIDI Dataset
# is 14 to 33 ms from the tenth to the ninetieth percentile. No wider than this share of the gap.
_NARROWEST, _WIDEST = 5.0, 35.0
_WIDEST_SHARE = 0.28
# The common lean stays within this share of the gap: beyond it, it would be another line.
_LEAN_SHARE = 0.25
# The background at the start, and the least that is left of it.
_NOISE, _LEAST_NOISE = 0.2, 1e-3
# Grids whose lines are summed in one go.
_SOME = 11
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

    def repeated(self, times: int) -> "Comb":
        """The same grids several times over."""
        if times == 1:
            return self
        many, fits = len(self.owner), len(self.count)
        return Comb(
            **{
                name: np.tile(getattr(self, name), times)
                for name in ("count", "swing", "free", "line", "second")
            },
            owner=np.tile(self.owner, times) + fits * (np.arange(times * many) // many),
        )


def comb(grids: Sequence[Grid], free: Sequence[bool]) -> Comb:
    """Lay out the lines of some grids, of which the swing of some is to be found."""
    count = [grid.in_quarter for grid in grids]
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
    """What came of the fit of f grids to p parts.

    Attributes
    ----------
    swing : float64 array, shape (p, f)
        In percent.
    noise : float64 array, shape (p, f)
        Share of the background.
    mean : float64 array, shape (p, f)
        Mean log-likelihood of a place.
    """

    swing: Floats
    noise: Floats
    mean: Floats


def fit_mixtures(
    phase: Floats, weight: Floats, lines: Comb, quarter_ms: Floats, behind: Floats
) -> Mixtures:
    """Fit a mixture to the places of each part, for each grid.

    Parameters
    ----------
    phase : float64 array, shape (n,)
        Where places lie in a quarter note, 0 to 1.
    weight : float64 array, shape (p, n)
        Share of the places of each part that lie there; each row sums to 1.
    lines : Comb
    quarter_ms : float64 array, shape (p,)
        Length of a quarter note in each part, ms.
    behind : float64 array, shape (f,)
        What each grid costs, in mean log-likelihood per place: those far behind are given up.
    """
    parts, grids = len(weight), len(lines.count)
    part = np.arange(parts).repeat(grids)
    lines, behind = lines.repeated(parts), np.tile(behind, parts)
    found = np.zeros((3, parts * grids))
    fits = _Fits(lines, quarter_ms[part], weight[part])
    for left in reversed(range(_ROUNDS)):
        fits.go_on(phase, _FURTHER if left > 1 else 1.0)
        if left == _ROUNDS - _EARLY:
            found[:] = fits.found
            score = (found[2] - behind).reshape(parts, grids)
            fits.keep((score >= score.max(axis=1)[:, None] - _HOPELESS).ravel())
    found[:, fits.at] = fits.found
    found[0, ~lines.free] = lines.swing[~lines.free]
    return Mixtures(*found.reshape(3, parts, grids))


class _Fits:
    """The fits that have not settled yet, as far as they are."""

    def __init__(self, lines: Comb, quarter_ms: Floats, weight: Floats) -> None:
        self.at = np.arange(len(lines.count))
        self.weight = weight
        self.owner, self.line, self.second = lines.owner, lines.line, lines.second
        self.gap = 1.0 / lines.count
        self.widest = np.minimum(_WIDEST / quarter_ms, _WIDEST_SHARE * self.gap)
        self.narrowest = np.minimum(_NARROWEST / quarter_ms, self.widest)
        self.width = self.widest
        self.noise = np.full(len(self.at), _NOISE)
        self.total = np.zeros_like(weight)
        self.share = (1 - _NOISE) * self.gap[self.owner]
        # The lean of all lines, and how much further the swing moves second lines.
        limits = [
            (_LEAN_SHARE * side, swing / 50 - 1)
            for side, swing in zip((-1, 1), _SWING_RANGE, strict=True)
        ]
        self.least, self.most = (np.outer(limit, self.gap) for limit in limits)
        self.shift = np.stack([0 * self.gap, (lines.swing / 50 - 1) * self.gap])
        self._sort()

    def _sort(self) -> None:
        """Say which lines are of which half (first lines, second lines) of which grid."""
        count = len(self.at)
        self.half = self.owner + count * self.second
        self.of_half = (self.half[:, None] == np.arange(2 * count)).astype(np.float64)
        # Some grids at a time: a table of all lines and all grids is empty but for its diagonal,
        # and large products are handed to further threads, which costs more than it saves.
        self.blocks: list[tuple[slice, slice, Floats]] = []
        for first in range(0, count, _SOME):
            some = np.arange(first, min(first + _SOME, count))
            begin, end = np.searchsorted(self.owner, [first, first + _SOME]).tolist()
            of = (self.owner[begin:end] == some[:, None]).astype(np.float64)
            self.blocks.append((slice(first, first + _SOME), slice(begin, end), of))

    @property
    def found(self) -> tuple[Floats, Floats, Floats]:
        """Swing, in percent; noise; mean log-likelihood of a place before the last round."""
        mean = np.einsum("fn,fn->f", np.log(self.total), self.weight)
        return 50 * (1 + self.shift[1] / self.gap), self.noise, mean

    def go_on(self, phase: Floats, further: float) -> None:
        """One round: most of the work of an automatic grid, so few operations."""
        owner = self.owner
        lean, apart = self.shift
        place = self.line + np.concatenate((lean, lean + apart))[self.half]
        off = phase - place[:, None]
        off -= np.rint(off)
        bell = off * off
        bell *= (-0.5 / (self.width * self.width))[owner][:, None]
        np.exp(bell, out=bell)
        height = self.share / (self.width * _ROOT)[owner]
        total = np.empty(self.weight.shape)
        for fits, lines, of in self.blocks:
            np.matmul(of * height[lines], bell[lines], out=total[fits])
        total += self.noise[:, None]
        self.total = total
        bell *= (self.weight / total)[owner]
        weighed = np.einsum("ln->l", bell)
        pulled = np.einsum("ln,ln->l", bell, off)
        bell *= off
        sums = np.array((weighed, pulled, np.einsum("ln,ln->l", bell, off)))
        sums *= height
        halves = (sums @ self.of_half).reshape(3, 2, -1)
        taken, _, spread = halves[:, 0] + halves[:, 1]
        width = np.sqrt(spread / np.maximum(taken, _LEAST))
        shift = self.shift + halves[1] / np.maximum(halves[0], _LEAST)
        self.shift = np.minimum(np.maximum(shift, self.least), self.most)
        self.share = _on(self.share, sums[0], further)
        self.noise = np.maximum(_on(self.noise, 1.0 - taken, further), _LEAST_NOISE)
        if further > 1.0:
            width *= np.sqrt(width / self.width)
        self.width = np.minimum(np.maximum(width, self.narrowest), self.widest)

    def keep(self, rest: Bools) -> None:
        """Go on with some of the fits."""
        for name in ("at", "weight", "gap", "widest", "narrowest", "width", "noise", "total"):
            setattr(self, name, getattr(self, name)[rest])
        for name in ("shift", "least", "most"):
            setattr(self, name, getattr(self, name)[:, rest])
        kept = rest[self.owner]
        self.line, self.second, self.share = self.line[kept], self.second[kept], self.share[kept]
        self.owner = (np.cumsum(rest) - 1)[self.owner[kept]]
        self._sort()


def _on(before: Floats, said: Floats, further: float) -> Floats:
    """From weights as they were to those that are said, and further."""
    if further == 1.0:
        return said
    return np.maximum(before + further * (said - before), _LEFT_OF_SHARE * said)
