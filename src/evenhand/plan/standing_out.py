"""What stands out: for each stroke its line, its target, how far off it may be, its fate.

A stroke that is further off its target than it may be is judged three ways: move its limb alone,
carry the run that leads to it, leave it. Whoever keeps time beside it says which of the first two
comes first (see `evenhand.habit.limbs`); if that does not make the steps to the hits before and
behind clearly more even, carrying the run is tried, and if that does not either it is left. It is
left as well where the intervals to them do not get nearer to the same intervals of bars nearby.

How loosely a drummer plays decides how far a cap is drawn. In a tight take a stroke may be off by
twice what listeners notice in a groove before it must move; in a loose one by that only, the limits
of the odds are lower, and steps are looked at less, as the hits beside are loose as well.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words, median
from evenhand.habit import (
    LIMIT,
    Belonging,
    Pushes,
    Sounding,
    Steps,
    as_heard,
    evened_by,
    find_alone,
    find_drift,
    find_marks,
    find_pushes,
    find_steps,
    plainly_usual,
    trust,
    with_borders,
    without_recurring,
)

#: What may become of a stroke.
MOVED, KEPT, DOUBTFUL, TOO_FAR, UNEVEN = "moved", "kept", "doubtful", "too far", "uneven"
_FATES = np.array([MOVED, KEPT, DOUBTFUL, TOO_FAR, UNEVEN]).dtype

#: What listeners notice in a groove, early and late, ms (doi 10.31234/osf.io/jsg94).
HEARD_MS = (23.0, 28.0)
#: A tight player may be off by so many times that, a loose one by once. Tried on the tuning half.
TIGHT_TIMES = 2.0
#: Scatter around habit and drift of a player who is tight, and of one who is loose, ms: nine in ten
#: takes by professionals lie below the first, nearly all takes with 20 ms of scatter above the
#: second.
TIGHT_MS, LOOSE_MS = 19.0, 22.0
#: By how much the limit of the odds is lower for a loose player, and that of the trust in a line.
LOWER, LESS_TRUST = 3.0, 2.0
#: From 1 for a tight player, how much a move must even the steps falls by so much for a loose one.
LESS_EVEN = 1.2
#: A line that is less than this many times as likely as the next best is doubtful.
DOUBT = 1.2
#: A move must take away this much of the unevenness of the steps beside it, of the most it can take
#: away (twice itself: once from the step before, once from the step behind). Tried on the tuning
#: half.
CLEARLY = 0.3
#: The same by the plainest reading of what is usual: no section, no drift.
PLAINLY = 0.5
#: What a move must take away of the intervals' distance from what they are in the bars nearby, as a
#: share of the most it can: one that carries what is beside it, and one that leaves it where it is.
#: And how often it is asked: who stays changes the intervals of others.
AS_HEARD, AS_HEARD_ALONE, TIMES = 0.2, 0.3, 2
#: One step of the dial between "just noticed" and "plainly heard", log-odds.
_STEP = 0.04

#: Of a median distance, the spread of a bell.
_BELL = 1.4826
# Fewest anchors that tell how loosely a drummer plays.
_FEWEST = 16


def limit_for(dial: float | Floats) -> float | Floats:
    """The log-odds at which a stroke stands out, from a dial.

    Parameters
    ----------
    dial : float or float64 array, shape (s,)
        From 0, "just noticed": whatever can be told from the drummer's own scatter moves; through
        50, the default; to 100, "plainly heard": only what anyone hears moves.
    """
    return LIMIT + _STEP * (dial - 50.0)


@dataclass(frozen=True)
class Wishes:
    """What the person wants.

    Attributes
    ----------
    strength : float or float64 array, shape (s,)
        How much of the excess a move takes away, percent.
    lean, habit : float or float64 array, shape (s,)
        How much of lean and drift, and of the habit, a target keeps, percent.
    most : float or float64 array, shape (s,)
        No move is larger, ms.
    limit : float or float64 array, shape (s,)
        Log-odds at which a stroke stands out (see `limit_for`).
    """

    strength: float | Floats = 75.0
    lean: float | Floats = 100.0
    habit: float | Floats = 100.0
    most: float | Floats = 60.0
    limit: float | Floats = LIMIT


@dataclass(frozen=True, eq=False)
class Verdict:
    """What is to become of each of s strokes.

    Attributes
    ----------
    line : float64 array, shape (s,)
        Ticks.
    deviation : float64 array, shape (s,)
        From the line, ms; minus is early.
    usual : float64 array, shape (s,)
        Where the target lies, from the line, ms.
    early, late : float64 arrays, shape (s,)
        How far from the target the stroke may be, ms; `early` is below 0.
    fate : str array, shape (s,)
        One of `MOVED`, `KEPT`, `DOUBTFUL`, `TOO_FAR`, `UNEVEN`.
    shift : float64 array, shape (s,)
        By how much it moves, its push included, ms.
    alone : bool array, shape (s,)
        Which strokes move with their own limb only.
    carried_run : bool array, shape (s,)
        Which of those that move together do so because that alone makes the steps even: what leads
        to them lags, or hurries, as well.
    push : int64 array, shape (s,)
        The push that each lies in; -1 for none.
    pushes : Pushes
    off : float64 array, shape (n,)
        How far each hit is from its habit, drift and push taken out, ms.
    push_of_hit : int64 array, shape (n,)
    pushed : float64 array, shape (n,)
        How far each hit is pushed, ms: less than its push at the borders of one that comes or goes
        slowly.
    looseness : float
        From 0, as tight as professionals play, to 1.
    """

    line: Floats
    deviation: Floats
    usual: Floats
    early: Floats
    late: Floats
    fate: Words
    shift: Floats
    alone: Bools
    carried_run: Bools
    push: Ints
    pushes: Pushes
    off: Floats
    push_of_hit: Ints
    pushed: Floats
    looseness: float

    @property
    def excess(self) -> Floats:
        """How far each stroke is from its target, ms."""
        return self.deviation - self.usual


@dataclass(frozen=True, eq=False)
class Heard:
    """The hits to be judged, n of them, and s strokes.

    Attributes
    ----------
    belonging : Belonging
    reference : int64 array, shape (s,)
        The hit that stands for each stroke.
    keeper, anchor : bool arrays, shape (n,)
    velocity, voice : int64 arrays, shape (n,)
    noticed : float64 array, shape (s,)
        What can be noticed in an even sequence there, ms.
    sounding : Sounding
    """

    belonging: Belonging
    reference: Ints
    keeper: Bools
    anchor: Bools
    velocity: Ints
    voice: Ints
    noticed: Floats
    sounding: Sounding


def judge(heard: Heard, wishes: Wishes) -> Verdict:
    """Say what stands out, and what is to become of each stroke.

    Strokes that are left though they stand out (doubtful, too far, uneven) stay where they are: a
    shift of 0 besides that of their push, not carried by what moves around them.
    """
    belonging, pushes, plain = _without_pushes(heard)
    reference = heard.reference
    loose = looseness(belonging, heard.anchor)
    bounds = _bounds(heard, belonging, wishes.limit, loose)

    habit, cell = belonging.habit, belonging.cell[reference]
    lean = habit.lean[cell] + belonging.drift[reference]
    usual = wishes.lean / 100 * lean + wishes.habit / 100 * (habit.ms - habit.lean)[cell]
    push_of_hit, pushed_hits = pushes.at(belonging.place)
    push, pushed = push_of_hit[reference], pushed_hits[reference]
    deviation = belonging.deviation[reference]
    excess = deviation - usual
    outside = (excess < -bounds[0]) | (excess > bounds[1])
    move = np.where(outside, -wishes.strength / 100 * excess, 0.0)
    alone = find_alone(belonging, belonging.off, reference, heard.keeper)

    steps = find_steps(belonging, reference, belonging.off)
    plain_steps = steps.by(plain, belonging, reference)
    fate = np.where(outside, MOVED, KEPT).astype(_FATES)
    fate[outside & (np.abs(move) > wishes.most)] = TOO_FAR
    moving = np.where(fate == MOVED, move, 0.0)
    fate[outside & _doubtful(heard, belonging, steps, moving, loose)] = DOUBTFUL
    strict = 1 - LESS_EVEN * loose
    moving = np.where(fate == MOVED, move, 0.0)
    evened, run = _evened(steps, moving, alone, CLEARLY * strict)
    fate[(fate == MOVED) & ~evened] = UNEVEN
    moving = np.where(fate == MOVED, move, 0.0)
    plainly = np.where(run, plain_steps.change(moving, run=True), plain_steps.change(moving))
    worse = plainly > -2 * PLAINLY * strict * np.abs(move)
    fate[(fate == MOVED) & worse] = UNEVEN
    shift = None
    for _ in range(TIMES):
        moving, last = np.where(fate == MOVED, move, 0.0), shift
        shift = heard.sounding.carried(moving, alone & ~run)
        worse = _sounds_worse(heard.sounding, shift, last, alone & ~run, loose)
        if not worse.any():
            break
        fate[worse] = UNEVEN
    own = np.where(fate == MOVED, move, 0.0)
    return Verdict(
        line=belonging.line[reference],
        deviation=deviation + pushed,
        usual=usual,
        early=-bounds[0],
        late=bounds[1],
        fate=fate,
        shift=own - wishes.strength / 100 * pushed,
        alone=alone & ~run & (own != 0),
        carried_run=run & (own != 0),
        push=push,
        pushes=pushes,
        off=belonging.off,
        push_of_hit=push_of_hit,
        pushed=pushed_hits,
        looseness=loose,
    )


def looseness(belonging: Belonging, anchor: Bools) -> float:
    """How loosely the anchors are played around habit and drift: from 0, tight, to 1, loose."""
    off = belonging.off[anchor]
    if len(off) < _FEWEST:
        return 0.0
    scatter = _BELL * median(np.abs(off))
    return float(np.clip((scatter - TIGHT_MS) / (LOOSE_MS - TIGHT_MS), 0.0, 1.0))


def _bounds(heard: Heard, belonging: Belonging, limit: float | Floats, loose: float) -> Floats:
    """How far early and late each stroke may be, ms: shape (2, s)."""
    marks = find_marks(
        belonging, heard.reference, heard.keeper, heard.anchor, heard.velocity, heard.voice
    )
    cap = np.array(HEARD_MS) * (TIGHT_TIMES - (TIGHT_TIMES - 1.0) * loose)
    most = np.maximum(heard.noticed, cap[:, None])
    return np.clip(marks.bounds(limit - LOWER * loose), heard.noticed, most)


def _doubtful(
    heard: Heard, belonging: Belonging, steps: Steps, move: Floats, loose: float
) -> Bools:
    """Which strokes may belong to another line, or to none."""
    reference = heard.reference
    share = trust.gap_share(belonging)
    change = steps.change(move) / np.maximum(2 * np.abs(move), 1e-9)
    marks = trust.find_trust(belonging, reference, heard.anchor, share, change)
    odds = marks @ np.array(list(trust.WEIGHTS.values()))
    between = (share[reference] > trust.BETWEEN) | (trust.nearer_by(belonging, reference) > 0)
    doubt = (1 - loose) * np.log(DOUBT)
    distrusted = between & (odds < trust.LIMIT - LESS_TRUST * loose)
    return np.asarray(distrusted | (belonging.margin[reference] < doubt))


def _evened(steps: Steps, move: Floats, alone: Bools, clearly: float) -> tuple[Bools, Bools]:
    """Which moves make the steps beside them clearly more even; which do so with their run."""
    wanted = -2 * clearly * np.abs(move)
    own, with_run = steps.change(move), steps.change(move, run=True)
    by_itself = np.where(alone, own, np.minimum(own, with_run))
    run = alone & (by_itself > wanted) & (with_run <= wanted)
    return (by_itself <= wanted) | run, run


def _sounds_worse(
    sounding: Sounding, shift: Floats, last: Floats | None, alone: Bools, loose: float
) -> Bools:
    """Which moves do not bring the intervals nearer to what they are in the bars nearby.

    Those are not asked again around which nothing is moved in another way than it was last.
    """
    gain = evened_by(sounding, shift, last)
    wanted = np.where(alone, AS_HEARD_ALONE, AS_HEARD) - loose
    return np.asarray(gain < 2 * wanted * np.abs(shift[sounding.reference]))


def _without_pushes(heard: Heard) -> tuple[Belonging, Pushes, Floats]:
    """The same hits with pushes taken out of their distances and of the drift.

    The last of the three is how far each hit is off by the plainest reading, without its push.
    """
    belonging = heard.belonging
    habit, cell = belonging.habit, belonging.cell
    off, spread = belonging.deviation - habit.ms[cell], habit.spread[cell]
    bar, place = belonging.bar, belonging.place
    pushes = find_pushes(off, spread, bar, belonging.within)
    pushes = without_recurring(pushes, off, spread, bar, belonging.near.sections)
    plain = belonging.deviation - plainly_usual(heard.voice, belonging.within, belonging.deviation)
    pushes = with_borders(pushes, plain, spread, place)
    pushes = as_heard(pushes, heard.sounding, place)
    if not len(pushes):
        return belonging, pushes, plain
    ms = pushes.at(place)[1]
    drift = find_drift(off - ms, spread, belonging.beats, belonging.pick)
    return belonging.without(ms, drift), pushes, plain - ms
