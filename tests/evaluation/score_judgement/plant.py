"""Faults for a playing: slips, pushed bars, scatter. All draws come from the generator given."""

from dataclasses import dataclass

import numpy as np
from tests.evaluation.score_judgement.playing import Playing

from evenhand.columns import Bools, Floats, Ints, Words

#: Slips, and by how much bars are pushed, ms.
SLIP_MS, PUSH_MS = (25.0, 60.0), (22.0, 40.0)
#: How near to where it usually lies a stroke must be to slip, ms.
USUAL_MS = 15.0
#: Share of the strokes that slip; bars for each push, and from a push to the next at least.
SLIP_SHARE, PUSH_EVERY, PUSH_APART = 0.03, 12, 4
#: Share of a bar in which a push comes and goes, before and behind its bars.
RAMP = 1 / 8

# What stays free before and behind a planted hit to others of its piece, and to other anchors, ms.
_ROOM_MS, _ANCHOR_ROOM_MS = 20.0, 25.0
# How near to its neighbour on the same piece a scattered hit may come, share of the gap.
_SCATTER_ROOM = 0.4


@dataclass(frozen=True, eq=False)
class Slips:
    """Slips of some strokes.

    Attributes
    ----------
    ms : float64 array, shape (hits,)
        When each hit sounds now.
    stroke : int64 array, shape (slips,)
    amount : float64 array, shape (slips,)
        In ms; minus is early.
    along : bool array, shape (slips,)
        Whether everything struck with the stroke slipped along.
    """

    ms: Floats
    stroke: Ints
    amount: Floats
    along: Bools


def plant_slips(playing: Playing, random: np.random.Generator, usual_ms: float = USUAL_MS) -> Slips:
    """Let some strokes slip, every second one with everything that is struck with it.

    Only strokes that were near to where they usually lie (`usual_ms`) slip: what stood out before
    has no right place to be brought back to.

    No two neighbouring strokes slip, no hit comes near another of its piece, and no stroke near
    another stroke: where there is no room for a slip, another stroke is taken.
    """
    count = len(playing.reference)
    wanted = max(1, round(SLIP_SHARE * count)) if count else 0
    ms, taken = playing.ms.copy(), np.zeros(count + 2, np.bool_)
    slips: list[tuple[int, float, bool]] = []
    off = np.abs(playing.ms - playing.nominal - playing.usual)[playing.reference]
    for stroke in random.permutation(np.flatnonzero(off <= usual_ms)).tolist():
        if len(slips) == wanted:
            break
        amount = float(random.uniform(*SLIP_MS) * random.choice((-1, 1)))
        along = len(slips) % 2 == 1
        members = playing.stroke == stroke
        if along:
            members |= playing.with_stroke == stroke
        if taken[stroke : stroke + 3].any() or not _has_room(playing, members, amount):
            continue
        taken[stroke + 1] = True
        ms[members] += amount
        slips.append((stroke, amount, along))
    slips.sort()
    stroke, amount, along = zip(*slips, strict=True) if slips else ((), (), ())
    return Slips(ms, np.array(stroke, int), np.array(amount, float), np.array(along, bool))


def _has_room(playing: Playing, members: Bools, amount: float) -> bool:
    """Whether hits can move by so much and stay clear of the others."""
    rest = ~members
    after = playing.ms[members] + amount
    if after.min() < 0:
        return False
    for piece in np.unique(playing.piece[members]):
        others = playing.ms[rest & (playing.piece == piece)]
        mine = playing.ms[members & (playing.piece == piece)]
        if not _clear(mine, amount, others, _ROOM_MS):
            return False
    mine = playing.ms[members & playing.anchor]
    return _clear(mine, amount, playing.ms[rest & playing.anchor], _ANCHOR_ROOM_MS)


def _clear(mine: Floats, amount: float, others: Floats, room: float) -> bool:
    """Whether hits pass none of the others on their way, and none comes within `room` of them."""
    low = np.minimum(mine, mine + amount - room)
    high = np.maximum(mine, mine + amount + room)
    return not ((others >= low[:, None]) & (others <= high[:, None])).any()


@dataclass(frozen=True, eq=False)
class Pushes:
    """Bars that run ahead or behind as a whole.

    Attributes
    ----------
    knot, shift : float64 arrays
        The shift of everything, linear between knots, both in ms.
    first, stop : float64 arrays, shape (pushes,)
        Where the full push holds, ms.
    amount : float64 array, shape (pushes,)
    """

    knot: Floats
    shift: Floats
    first: Floats
    stop: Floats
    amount: Floats

    def at(self, ms: Floats) -> Floats:
        """When what was played at some times sounds now, ms."""
        return np.asarray(ms + np.interp(ms, self.knot, self.shift))


def plant_pushes(
    starts: Floats, strokes: Floats, random: np.random.Generator, least: int = 2
) -> Pushes:
    """Push one or two bars at a time.

    Parameters
    ----------
    starts : float64 array
        Bar lines in ms, the end of the last bar included. The first two bars and the last stay.
    strokes : float64 array
        When strokes sound, ms; pushed bars have some.
    random : Generator
    least : int
        Fewest strokes in pushed bars.
    """
    bars = len(starts) - 1
    wanted = max(1, bars // PUSH_EVERY) if bars >= 8 else 0
    chosen: list[tuple[int, int, float]] = []
    for bar in random.permutation(np.arange(2, max(bars - 2, 2))).tolist():
        if len(chosen) == wanted:
            break
        length = int(random.integers(1, 3))
        amount = float(random.uniform(*PUSH_MS) * random.choice((-1, 1)))
        inside = (strokes >= starts[bar] - 30) & (strokes < starts[bar + length] - 30)
        near = any(abs(bar - other) < PUSH_APART + 2 for other, _, _ in chosen)
        if not near and inside.sum() >= least and bar + length < bars:
            chosen.append((bar, length, amount))
    knots: list[tuple[float, float]] = []
    for bar, length, amount in sorted(chosen):
        first, stop = float(starts[bar]), float(starts[bar + length])
        ramp = RAMP * float(starts[bar + 1] - starts[bar])
        knots += [(first - ramp, 0.0), (first, amount), (stop, amount), (stop + ramp, 0.0)]
    places = np.array(knots or [(0.0, 0.0)])
    full = places[1::4] if knots else places[:0]
    return Pushes(places[:, 0], places[:, 1], full[:, 0], places[2::4][:, 0], full[:, 1])


def scatter(playing: Playing, width: float, random: np.random.Generator) -> Floats:
    """Scatter every hit (a stroke as one) by a bell of some width, in ms; nothing overtakes."""
    own = random.normal(0, width, len(playing))
    shared = random.normal(0, width, len(playing.reference) + 1)
    noise = np.where(playing.anchor, shared[playing.stroke], own)
    order = np.lexsort((playing.ms, playing.piece))
    gap = np.diff(playing.ms[order])
    gap[playing.piece[order][1:] != playing.piece[order][:-1]] = np.inf
    before, behind = np.append(np.inf, gap), np.append(gap, np.inf)
    room = np.empty((2, len(playing)))
    room[:, order] = before, behind
    noise = np.clip(noise, -_SCATTER_ROOM * room[0], _SCATTER_ROOM * room[1])
    return np.maximum(playing.ms + noise, 0.0)


def without_time_hand(piece: Words) -> Bools:
    """Which hits are left where nothing but drums has a trigger: no hats, rides and cymbals."""
    gone = ("hat", "ride", "crash", "splash", "china", "cowbell")
    return np.asarray(~np.isin(piece, gone))
