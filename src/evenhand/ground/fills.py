"""Fills: half-bars that leave the groove for toms, snare runs and crashes.

The task: say of each half-bar whether it belongs to the groove or to a fill. The groove at a
place is what the same half of the bars before it, and of those behind it, usually plays; a fill
is like neither, nor like the bar next to it. It brings hits on toms and snare where usually there
are none, takes them from the timekeeper and the backbeat, and often lands on a crash.

Limits: half-bars are counted from the bar line; snare hits over a timekeeper that goes on are a
variation of the groove, so a fill of that kind is not found; a solo, in which no bar is like the
other, has no groove to leave, so nothing in it is called a fill; what goes on for more than four
bars is a section of its own.

The weights are common practice, tried on joined grooves and fills by professionals; see
tests/evaluate_judgement.py and docs/benchmarks.md.
"""

from dataclasses import dataclass, fields

import numpy as np

from evenhand.columns import Bools, Brief, Bytes, Floats, Ints, Words, clipped, indices, runs
from evenhand.grid import Grid, lines_at
from evenhand.kit import ACCENT, GHOST, ROLE_OF_PIECE, TIMEKEEPER
from evenhand.take import MeterMap

# What is compared; what may be missing comes first.
_KINDS = KEEPER, SNARE, TOM, CRASH = range(4)

#: Slots of a half-bar that are compared, sixteenths; more are dropped (meters beyond 24/16).
_SLOTS = 12

#: Bars on each side that tell what is usual, and the fewest that can.
_BARS, _FEWEST = 6, 2

# Stretches of bars that a half-bar is held against, from its own: those on each side, and the bar
# beside it, as what is like that repeats, and is a groove of its own, however short.
_HELD = ((-_BARS, 0), (1, _BARS + 1), (-1, 0), (1, 2))

# What is usual is played in at least this share of the bars; what is unusual in no more than this.
_USUAL, _UNUSUAL = 0.6, 0.35

# What a fill is made of: a tom or snare hit where usually there is none, all of the timekeeper
# missing, a usual snare hit missing, a crash at its end where usually there is none.
_TOM, _SNARE, _KEEPER, _BACKBEAT, _CRASH = 1.0, 0.8, 2.5, 0.6, 1.2

#: A timekeeper that leaves out no more of its hits than this goes on.
_GOES_ON = 0.4

#: The score of a fill, and of a half-bar that goes on with one.
_FILL, _MORE = 3.5, 1.5

#: Longest fill, half-bars.
_LONGEST = 8


@dataclass(frozen=True, eq=False)
class Fills(Brief):
    """The fills of a take, f of them, in time order.

    Attributes
    ----------
    begin, end : float64 arrays, shape (f,)
        Ticks of the lines where each begins and where the groove comes back.
    as_played : bool array, shape (f,)
        Which are to be held.
    landing_as_played : bool array, shape (f,)
        Of which the stroke that they land on is to be held.
    """

    begin: Floats
    end: Floats
    as_played: Bools
    landing_as_played: Bools

    def __len__(self) -> int:
        return len(self.begin)

    def only(self, which: Bools) -> "Fills":
        """Some of the fills.

        Parameters
        ----------
        which : bool array, shape (f,)
        """
        return Fills(*(getattr(self, field.name)[which] for field in fields(self)))

    def of(self, line: Floats) -> Ints:
        """The fill that each line lies in; -1 for none.

        Parameters
        ----------
        line : float64 array, shape (n,)
            Ticks.
        """
        index = np.searchsorted(self.begin, line, side="right") - 1
        inside = index >= 0
        inside[inside] = line[inside] < self.end[index[inside]]
        return np.where(inside, index, -1)


def no_fills() -> Fills:
    """All is groove."""
    return loose_fills(np.zeros((0, 2)))


def loose_fills(stretches: Floats) -> Fills:
    """Fills that are loose, from their begin and end in ticks: shape (f, 2).

    Parameters
    ----------
    stretches : float64 array, shape (f, 2)
        Ticks.
    """
    nothing = np.zeros(len(stretches), np.bool_)
    return Fills(stretches[:, 0], stretches[:, 1], nothing, nothing)


def find_fills(tick: Floats, piece: tuple[Words, Ints], role: Words, meter: MeterMap) -> Fills:
    """Find the fills of a take.

    Parameters
    ----------
    tick : float64 array, shape (hits,)
        When each hit sounds.
    piece : (str array, int64 array)
        The pieces there are, and which of them each hit is of, shape (hits,).
    role : str array, shape (hits,)
    meter : MeterMap
    """
    if not len(tick):
        return no_fills()
    line = lines_at(tick, Grid(16), meter).tick
    bars = meter.bars_at(line)
    first_bar = int(bars.number.min())
    half = (bars.stop - bars.start) / 2
    second = line - bars.start >= half - 1e-6
    slot = np.rint((line - bars.start - second * half) * 4 / meter.division).astype(np.int64)
    index = 2 * (bars.number - first_bar) + second
    if int(index.max()) > 2 * len(tick) + 512:
        # Not even a hit to a bar makes no groove, and bars without number are not listed.
        return no_fills()
    score = _score(_pattern(index, slot, piece, role))
    fill = _longer(score >= _FILL, score >= _MORE)
    return loose_fills(_borders(fill, first_bar, meter))


def _pattern(index: Ints, slot: Ints, piece: tuple[Words, Ints], role: Words) -> Bools:
    """Which slots of each half-bar are played by each of `_KINDS`: (kinds, slots, 2, bars)."""
    bars = int(index.max()) // 2 + 1
    played = np.zeros((len(_KINDS), _SLOTS, 2, bars), np.bool_)
    names, number = piece
    kinds = np.array([_kind(name) for name in names.tolist()], np.int64)[number]
    compared = indices((kinds >= 0) & (slot < _SLOTS) & ((kinds != SNARE) | (role != GHOST)))
    index = index[compared]
    played[kinds[compared], slot[compared], index % 2, index // 2] = True
    return played


def _kind(piece: str) -> int:
    """Which of `_KINDS` a piece is; -1 for none."""
    if piece in ("snare", "side stick"):
        return SNARE
    if piece.startswith("tom "):
        return TOM
    return {TIMEKEEPER: KEEPER, ACCENT: CRASH}.get(ROLE_OF_PIECE.get(piece, ""), -1)


def _score(played: Bools) -> Floats:
    """How little each half-bar is like the groove on both sides of it."""
    count = played.shape[-1]
    # Sums over the same half of the bars, so that any stretch of bars costs one subtraction; with
    # empty bars around, so that no stretch ends outside. They may run over: differences don't.
    around = np.zeros((*played.shape[:-1], _BARS + 1), np.bool_)
    total = np.cumsum(np.concatenate([around, played, around], axis=-1), axis=-1, dtype=np.uint8)
    until = [total[..., _BARS + place :][..., :count] for place in range(-_BARS, _BARS + 2)]
    times = np.stack([until[_BARS + end] - until[_BARS + begin] for begin, end in _HELD], axis=-2)
    begin, end = np.arange(count) + np.array(_HELD).T[..., None]
    bars = clipped(end, 0, count) - clipped(begin, 0, count)
    enough = bars >= np.array([[_FEWEST], [_FEWEST], [1], [1]])
    scores = np.where(enough, _unlike(played[..., None, :], times, bars), np.nan)
    told = np.isfinite(scores[:, :2]).any(axis=1)
    return np.asarray(np.where(told, np.fmin.reduce(scores, axis=1), 0.0).T.ravel())


def _unlike(played: Bools, times: Bytes, bars: Ints) -> Floats:
    """How little half-bars are like what is played so many times in some bars.

    The last axes are those of `bars`: stretches and bars; the scores have those of the two halves
    before them.
    """
    usual = times[:TOM] >= np.ceil(_USUAL * bars).astype(np.uint8)
    unusual = times[SNARE:] <= np.floor(_UNUSUAL * bars).astype(np.uint8)
    gone, came = ~played[:TOM] & usual, played[SNARE:] & unusual
    # How many slots of each kind.
    expected, fewer, fewer_snare, more_snare, more_tom = (
        which.sum(axis=0, dtype=np.int32) for which in (usual[KEEPER], *gone, *came[:2])
    )
    kept = np.maximum(expected, 1)
    brought = _TOM * more_tom + _SNARE * more_snare
    left = _KEEPER * fewer / kept + _BACKBEAT * fewer_snare
    # A crash belongs to the half-bar that it ends.
    first, second = came[-1, 0]
    landing = np.zeros_like(came[-1, 0])
    landing[0], landing[1, :, :-1] = second, first[:, 1:]
    # Rest alone is no fill: what is left out counts for little where nothing is brought.
    score = brought + np.minimum(left + _CRASH * landing, _MORE + brought)
    # A timekeeper that goes on is a groove going on, whatever the snare does, unless toms come;
    # at the most a fill goes on over it.
    goes_on = (expected > 0) & (fewer <= _GOES_ON * kept) & (more_tom == 0)
    return np.asarray(np.where(goes_on, np.minimum(score, _MORE), score))


def _longer(fill: Bools, more: Bools) -> Bools:
    """Let fills reach over half-bars beside them that are fills by half; drop the endless ones."""
    kept = np.zeros(len(fill), np.bool_)
    for begin, end in runs(fill | more).tolist():
        if fill[begin:end].any() and end - begin <= _LONGEST:
            kept[begin:end] = True
    return kept


def _borders(fill: Bools, first_bar: int, meter: MeterMap) -> Floats:
    """Ticks where each fill begins and ends: shape (fills, 2)."""
    halves = runs(fill)
    bar = first_bar + halves // 2
    here = np.maximum(np.searchsorted(meter.bar, bar, side="right") - 1, 0)
    length = meter.beats[here] * 4.0 * meter.division / meter.unit[here]
    start = meter.tick[here] + (bar - meter.bar[here]) * length
    bars = meter.bars_at(start.ravel())
    half = ((bars.stop - bars.start) / 2).reshape(start.shape)
    return np.asarray(start + (halves % 2) * half)
