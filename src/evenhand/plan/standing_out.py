"""What stands out: for each stroke its line, its target, how far off it may be, its fate."""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.habit import (
    LIMIT,
    Belonging,
    Pushes,
    find_alone,
    find_drift,
    find_marks,
    find_pushes,
)

#: What may become of a stroke.
MOVED, KEPT, DOUBTFUL, TOO_FAR, UNEVEN = "moved", "kept", "doubtful", "too far", "uneven"

#: What is plainly heard in a groove by anyone, early and late, ms: twice the thresholds of
#: listeners, about 23 and 28 ms (doi 10.31234/osf.io/jsg94).
HEARD_MS = (46.0, 56.0)
#: A line that is less than this many times as likely as the next best is doubtful.
DOUBT = 1.2
#: A move must take away this much of the unevenness of the steps beside it, of the most it can take
#: away (twice itself: once from the step before, once from the step behind). Tried on the tuning
#: half.
CLEARLY = 0.5


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
    limit : float
        Log-odds at which a stroke stands out.
    """

    strength: float | Floats = 75.0
    lean: float | Floats = 100.0
    habit: float | Floats = 100.0
    most: float | Floats = 60.0
    limit: float = LIMIT


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
    push : int64 array, shape (s,)
        The push that each lies in; -1 for none.
    pushes : Pushes
    off : float64 array, shape (n,)
        How far each hit is from its habit, drift and push taken out, ms.
    push_of_hit : int64 array, shape (n,)
    """

    line: Floats
    deviation: Floats
    usual: Floats
    early: Floats
    late: Floats
    fate: Words
    shift: Floats
    alone: Bools
    push: Ints
    pushes: Pushes
    off: Floats
    push_of_hit: Ints

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
    """

    belonging: Belonging
    reference: Ints
    keeper: Bools
    anchor: Bools
    velocity: Ints
    voice: Ints
    noticed: Floats


def judge(heard: Heard, wishes: Wishes) -> Verdict:
    """Say what stands out, and what is to become of each stroke."""
    belonging, pushes = _without_pushes(heard.belonging)
    reference = heard.reference
    marks = find_marks(
        belonging, reference, heard.keeper, heard.anchor, heard.velocity, heard.voice
    )
    bounds = marks.bounds(wishes.limit)
    most = np.maximum(heard.noticed, np.array(HEARD_MS)[:, None])
    bounds = np.clip(bounds, heard.noticed, most)

    habit, cell = belonging.habit, belonging.cell[reference]
    lean = habit.lean[cell] + belonging.drift[reference]
    usual = wishes.lean / 100 * lean + wishes.habit / 100 * (habit.ms - habit.lean)[cell]
    bar = _bars(belonging)
    pushed = pushes.at(bar)[reference]
    deviation = belonging.deviation[reference]
    excess = deviation - usual
    outside = (excess < -bounds[0]) | (excess > bounds[1])
    move = np.where(outside, -wishes.strength / 100 * excess, 0.0)

    fate = np.where(outside, MOVED, KEPT)
    fate = np.where(outside & (np.abs(move) > wishes.most), TOO_FAR, fate)
    fate = np.where(outside & (belonging.margin[reference] < np.log(DOUBT)), DOUBTFUL, fate)
    alone = find_alone(belonging, belonging.off, reference, heard.keeper)
    evener = _evener(belonging, reference, move, fate == MOVED)
    fate = np.where((fate == MOVED) & ~evener, UNEVEN, fate)
    own = np.where(fate == MOVED, move, 0.0)
    return Verdict(
        line=belonging.line[reference],
        deviation=deviation + pushed,
        usual=usual,
        early=-bounds[0],
        late=bounds[1],
        fate=fate,
        shift=own - wishes.strength / 100 * pushed,
        alone=alone & (own != 0),
        push=pushes.of(bar)[reference],
        pushes=pushes,
        off=belonging.off,
        push_of_hit=pushes.of(bar),
    )


def _bars(belonging: Belonging) -> Ints:
    return belonging.near.bar[np.arange(len(belonging.pick)), belonging.pick]


def _without_pushes(belonging: Belonging) -> tuple[Belonging, Pushes]:
    """The same hits with pushes taken out of their distances and of the drift."""
    habit, cell = belonging.habit, belonging.cell
    bar = _bars(belonging)
    off = belonging.deviation - habit.ms[cell]
    hit = np.arange(len(belonging.pick))
    second = belonging.near.second[hit, belonging.pick]
    pushes = find_pushes(off, habit.spread[cell], bar, second)
    if not len(pushes):
        return belonging, pushes
    ms = pushes.at(bar)
    near = replace(belonging.near, off=belonging.near.off - ms[:, None])
    drift = find_drift(off - ms, habit.spread[cell], belonging.beats, belonging.pick)
    return replace(belonging, near=near, drift=drift), pushes


def _evener(belonging: Belonging, reference: Ints, move: Floats, moved: Bools) -> Bools:
    """Whether the steps to the hits beside each stroke come nearer to what they usually are."""
    off = belonging.off
    key, at = np.unique(np.rint(belonging.line).astype(np.int64), return_inverse=True)
    many = np.maximum(np.bincount(at, minlength=len(key)), 1)
    line_ms = np.zeros(len(key))
    line_ms[at] = belonging.line_ms
    mean = np.bincount(at, off, len(key)) / many
    own = at[reference]
    # A stroke beside that moves as well counts as it will be.
    later = off.copy()
    later[reference] += np.where(moved, move, 0.0)
    after = np.bincount(at, later, len(key)) / many
    change = np.zeros(len(reference))
    for step in (-1, 1):
        other = np.clip(own + step, 0, len(key) - 1)
        near = (other != own) & (np.abs(line_ms[other] - line_ms[own]) < 1500.0)
        before = np.abs(off[reference] - mean[other])
        change += np.where(near, np.abs(off[reference] + move - after[other]) - before, 0.0)
    return np.asarray(change <= -2 * CLEARLY * np.abs(move))
