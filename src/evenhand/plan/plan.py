"""The plan: for each stroke its line, what is to become of it, and its shift."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from evenhand.columns import Bools, Brief, Floats, Ints, Phrases, Words, among, indices, pick
from evenhand.errors import SettingError
from evenhand.ground import Ground
from evenhand.kit import ACCENT, ANCHOR, FILL
from evenhand.measure import Admissible, Measured, measure
from evenhand.plan.beside import Seat, sit_with_part
from evenhand.plan.by_habit import ByHabit, ask_habit
from evenhand.plan.holds import (
    FILL_AS_PLAYED,
    LANDING_AS_PLAYED,
    NO_GRID,
    OTHER_TEMPO,
    Held,
    Stretch,
    find_held,
    hold_strokes,
)
from evenhand.plan.lone_fill import ease_lone_fill
from evenhand.plan.rush import ends_of, whole_shifts
from evenhand.plan.spans import find_spans, number_spans
from evenhand.plan.syncopation import keep_syncopation
from evenhand.plan.targets import Targets, find_targets
from evenhand.plan.verdicts import (
    HELD,
    IN_FILL,
    IN_TIME,
    INSIDE,
    INSIDE_FILL,
    KEPT,
    KNOTS,
    LINE_TAKEN,
    MOVED,
    NO_STRENGTH,
    OFF_GRID,
    OFF_THE_GRID,
    OUTSIDE,
    SYNCOPATED,
    TAKEN,
    WITH_FILL,
    WITH_PART,
    WITH_SPAN,
    Verdicts,
)

#: Ticks within which two lines are one: floating-point noise, far below any real gap.
_SAME = 1e-3


@dataclass(frozen=True, eq=False)
class Plan(Brief):
    """What is to become of each of s strokes.

    Attributes
    ----------
    ground : Ground
        What it rests on.
    line, deviation, lean : float64 arrays, shape (s,)
        See `Targets`.
    admissible : Admissible
        How far off its target each may be and still be left alone.
    fate : str array, shape (s,)
        One of `FATES`.
    why : str array, shape (s,)
        The reason, as in the change log; empty for what is held (see `held`).
    claims : bool array, shape (s,)
        Whether the stroke has its line for itself and anchors something.
    shift : float64 array, shape (s,)
        Wanted shift in ticks, unrounded; 0 for all that are not moved.
    span : int64 array, shape (s,)
        Number of the span that the stroke moves with, from 1; 0 for none.
    edge, edge_shift : float64 arrays
        Knots besides the strokes, in ticks: the ends of holds, and of fills that move as a whole.
    held : Held
    syncopation : float64 array, shape (s,)
        How far each stroke that stays off the grid on purpose is from the line of its section's
        grid, ms; its own `line` is the one that it stands on. 0 for all others.
    section : int64 array, shape (s,)
    alone : bool array, shape (s,)
        Which strokes move with their own limb only.
    by_habit : bool array, shape (s,)
        Which strokes were judged by the habit.
    habit : ByHabit, optional
        What the habit says; None where it was not asked.
    """

    ground: Ground
    line: Floats
    deviation: Floats
    lean: Floats
    admissible: Admissible
    fate: Words
    why: Phrases
    claims: Bools
    shift: Floats
    span: Ints
    edge: Floats
    edge_shift: Floats
    held: Held
    syncopation: Floats
    section: Ints
    alone: Bools
    by_habit: Bools
    habit: ByHabit | None

    @cached_property
    def measured(self) -> Measured:
        """All hits against their lines."""
        return measure(self.ground)

    @cached_property
    def knots(self) -> Bools:
        """Which strokes are fixed points or targets of the map of time."""
        return among(self.fate, KNOTS)


@dataclass(frozen=True, eq=False)
class _Judged:
    """What was decided on each stroke as if it were alone.

    `want` is by how much it is to move if it does, ms; `alone` says which move with their own limb
    only; `by_habit` which were judged by the habit; `seat` how far those move that sit with a part.
    """

    goal: Targets
    verdicts: Verdicts
    want: Floats
    syncopation: Floats
    alone: Bools
    by_habit: Bools
    seat: Seat


def make_plan(ground: Ground, holds: Sequence[Stretch] = ()) -> Plan:
    """Decide about each stroke.

    Parameters
    ----------
    ground : Ground
        Strokes in a section without a grid are held.
    holds : sequence of (float, float)
        Stretches that stay as played, ticks.
    """
    time, reference = ground.time, ground.tick[ground.strokes.reference]
    asked = ask_habit(ground) if ground.dials.by_habit.any() else None
    if asked is None and ground.recipe.habit_from is not None:
        raise SettingError(
            "habit_from: the habit is not asked where window or reach are given, or spans wanted; "
            "take those away, or leave --habit-from away"
        )
    judged = _judge(ground, asked)
    goal, verdicts = judged.goal, judged.verdicts
    lone = ease_lone_fill(ground)
    held = _find_held(ground, goal, holds, lone is not None)
    # Inside a fill only the stroke on the line where it begins is an anchor; the habit knows by
    # itself what goes on there as usual.
    begin = pick(ground.fills.begin, goal.fill, np.nan)
    inside = (goal.fill >= 0) & goal.claims & (np.abs(goal.line - begin) > _SAME)
    inside &= ~goal.dials.by_habit
    verdicts.say(inside, IN_FILL, INSIDE_FILL)
    verdicts.say(held.stroke, HELD, "")
    strength = goal.dials.strength
    want = np.where(verdicts.fate == MOVED, judged.want, 0.0)
    fixed = (verdicts.fate == HELD) | (strength == 0) | (judged.syncopation != 0)
    want, span = _in_spans(goal, verdicts, want, fixed, time.tempo.ms_per_tick_at(reference))
    idle = (verdicts.fate == MOVED) & (strength == 0) & ~judged.by_habit
    verdicts.say(idle, MOVED, NO_STRENGTH)
    verdicts.say((verdicts.fate == KEPT) & (want != 0), MOVED, WITH_SPAN)
    seat = judged.seat
    seated = (
        ((verdicts.fate == MOVED) | (verdicts.fate == KEPT))
        & (seat.shift != 0)
        & (judged.syncopation == 0)
    )
    verdicts.say((verdicts.fate == KEPT) & seated, MOVED, WITH_PART)
    want = np.where(seated, want + seat.shift, want)

    rush = _rushing(ground, replace(goal, lean=goal.lean - _toward(asked, judged)), held)
    shift = pick(rush.shift, goal.fill, 0.0)
    whole = (goal.fill >= 0) & goal.claims & ~held.stroke & (shift != 0)
    if lone:
        rush, shift, whole = _Rush(rush.shift, lone.end, lone.end_shift), lone.shift, ~held.stroke
        verdicts.say(whole, KEPT, IN_TIME)
    verdicts.say(whole & (shift != 0), MOVED, WITH_FILL)
    want = np.where(whole, shift, want)
    # An end that is struck while a stroke goes on moves with that.
    ends, end_shift = rush.end, rush.end_shift
    if len(ends):
        outside = ~ground.strokes.within(ends, verdicts.knots)
        ends, end_shift = ends[outside], end_shift[outside]
    edge = np.concatenate([held.edge, ends])
    order = np.argsort(edge, kind="stable")
    return Plan(
        ground=ground,
        line=goal.line,
        deviation=goal.deviation,
        lean=goal.lean + np.where(seated, seat.shift, 0.0),
        admissible=goal.admissible,
        fate=verdicts.fate,
        why=verdicts.why,
        claims=goal.claims & (verdicts.fate != IN_FILL),
        shift=np.where(want == 0, 0.0, time.shift(reference, want)),
        span=span,
        edge=edge[order],
        edge_shift=np.concatenate([np.zeros(len(held.edge)), end_shift])[order],
        held=held,
        syncopation=np.where(verdicts.fate == KEPT, judged.syncopation, 0.0),
        section=goal.dials.section,
        alone=judged.alone & (verdicts.fate == MOVED) & ~whole,
        by_habit=judged.by_habit,
        habit=asked,
    )


def _toward(asked: ByHabit | None, judged: _Judged) -> Floats:
    """How far each stroke goes towards another habit, ms."""
    if asked is None or asked.towards is None:
        return np.zeros(len(judged.want))
    return np.where(judged.by_habit, np.nan_to_num(asked.towards.stroke), 0.0)


def _judge(ground: Ground, asked: ByHabit | None) -> _Judged:
    """Judge each stroke by the habit, or by a window where its section asks for one."""
    if asked and ground.dials.by_habit.all() and ground.recipe.against is None:
        return _by_habit(asked)
    by_window = _by_window(ground)
    if not asked:
        return by_window
    by_habit, goal, other = _by_habit(asked), asked.goal, by_window.goal
    # What sits with a part is judged by where that is.
    seated = by_window.seat.on
    which = other.dials.by_habit & ~seated
    mixed = {
        name: np.where(which, getattr(goal, name), getattr(other, name))
        for name in ("line", "deviation", "lean", "near", "claims", "fill")
    }
    section = np.where(which, goal.dials.section, other.dials.section)
    # What has its line in a section of the other kind goes by the section that it was heard in.
    right = (ground.dials.by_habit[section] == which) | seated
    section = np.where(right, section, other.dials.section)
    return _Judged(
        Targets(
            admissible=Admissible(
                np.where(which, goal.admissible.low, other.admissible.low),
                np.where(which, goal.admissible.high, other.admissible.high),
            ),
            dials=ground.dials.at(section),
            **mixed,
        ),
        by_habit.verdicts.where(which, by_window.verdicts),
        np.where(which, by_habit.want, by_window.want),
        np.where(which, 0.0, by_window.syncopation),
        by_habit.alone & which,
        which,
        by_window.seat,
    )


def _by_habit(asked: ByHabit) -> _Judged:
    count = len(asked.shift)
    return _Judged(
        asked.goal,
        asked.verdicts,
        asked.shift,
        np.zeros(count),
        asked.alone,
        np.ones(count, np.bool_),
        Seat.none(count),
    )


def _by_window(ground: Ground) -> _Judged:
    """Say of each stroke whether it is moved, kept or carried, by how far it is from its target."""
    goal, seat = sit_with_part(ground, find_targets(ground, measure(ground)))
    goal, syncopation = keep_syncopation(ground, goal)
    verdicts = Verdicts.none(len(goal.line))
    verdicts.say(goal.near & ~goal.claims, LINE_TAKEN, TAKEN)
    verdicts.say(~goal.near, OFF_GRID, OFF_THE_GRID)
    verdicts.say(goal.claims & goal.outside, MOVED, OUTSIDE)
    verdicts.say(goal.claims & ~goal.outside, KEPT, INSIDE)
    verdicts.say(goal.claims & ~goal.outside & (syncopation != 0), KEPT, SYNCOPATED)
    want = -goal.dials.strength / 100 * goal.excess
    nobody = np.zeros(len(want), np.bool_)
    return _Judged(goal, verdicts, want, syncopation, nobody, nobody, seat)


def _find_held(ground: Ground, goal: Targets, holds: Sequence[Stretch], lone_fill: bool) -> Held:
    """What stays as played, and why."""
    tick, strokes, fills = ground.tick, ground.strokes, ground.fills
    nowhere = np.full(len(strokes), np.nan)
    held = find_held(tick, strokes, np.where(goal.claims, goal.line, nowhere), holds)
    if ground.whole.other:
        held = held.also(find_held(tick, strokes, nowhere, [(-np.inf, np.inf)], OTHER_TEMPO))
    elif (blind := ground.layout.without_grid()) and not lone_fill:
        held = held.also(find_held(tick, strokes, nowhere, blind, NO_GRID))
    if fills.as_played.any():
        hits = pick(fills.as_played, fills.of(ground.lines_at(tick).tick), False)
        mine = pick(fills.as_played, goal.fill, False)
        held = held.also(hold_strokes(tick, strokes, mine, hits, FILL_AS_PLAYED))
    if fills.landing_as_played.any():
        landings = fills.end[fills.landing_as_played]
        landed = goal.claims & (np.abs(goal.line[:, None] - landings) <= _SAME).any(axis=1)
        nothing = np.zeros(len(tick), np.bool_)
        held = held.also(hold_strokes(tick, strokes, landed, nothing, LANDING_AS_PLAYED))
    return held


def _in_spans(
    goal: Targets, verdicts: Verdicts, want: Floats, fixed: Bools, tick_ms: Floats
) -> tuple[Floats, Ints]:
    """Where spans are wanted, the shift of each stroke in ms; and the number of each one's span."""
    span = np.zeros(len(want), np.int64)
    spans = goal.dials.spans
    if not spans.any():
        return want, span
    taking_part = verdicts.knots
    if not (spans & taking_part).any():
        return want, span
    # Half a tick is left for rounding, so that what was inside on paper is inside in the file.
    low, high = goal.admissible.shifts(goal.excess, tick_ms / 2)
    low = np.where(goal.outside, low, np.minimum(low, 0.0))
    high = np.where(goal.outside, high, np.maximum(high, 0.0))
    low, high = np.where(fixed, 0.0, low), np.where(fixed, 0.0, high)
    want = want.copy()
    picked = indices(taking_part)
    # Strokes that are planned one by one part the spans on both sides of them.
    runs = indices(np.diff(spans[picked].astype(np.int8))) + 1
    for run in np.split(picked, runs):
        if spans[run[0]]:
            want[run] = find_spans(low[run], high[run], goal.dials.span_cost[run])
            number = number_spans(want[run])
            span[run] = np.where(number > 0, number + span.max(), 0)
    return want, span


@dataclass(frozen=True, eq=False)
class _Rush:
    """How far each fill moves as a whole, ms; ticks and shifts of the ends of those that do."""

    shift: Floats
    end: Floats
    end_shift: Floats


def _rushing(ground: Ground, goal: Targets, held: Held) -> _Rush:
    """Find the fills that are off as a whole, from all that drums in them and is not held."""
    fills, tick, time = ground.fills, ground.tick, ground.time
    # Where the habit decides, bars that ran are found by themselves.
    if not len(fills) or not len(goal.line) or ground.dials.by_habit.all():
        return _Rush(np.zeros(len(fills)), np.zeros(0), np.zeros(0))
    hit = indices(among(ground.hits.role, (ANCHOR, FILL, ACCENT)) & ~held.hit)
    hit = hit[np.argsort(tick[hit], kind="stable")]
    line = ground.lines_at(tick[hit]).tick
    fill = fills.of(line)
    fill = np.where(pick(fills.as_played, fill, False), -1, fill)
    # The lean, the window and the strength are those of the groove that leads into the fill.
    before = np.maximum(np.searchsorted(np.maximum.accumulate(goal.line), fills.begin) - 1, 0)
    off = time.between(line, tick[hit]) - goal.lean[before][fill]
    shift = whole_shifts(fill, off, goal.admissible.at(before))
    shift = shift * goal.dials.strength[before] / 100
    shift = np.where(goal.dials.by_habit[before], 0.0, shift)
    ends = ends_of(fill, shift != 0)
    at = tick[hit][ends]
    return _Rush(shift, at, time.shift(at, shift[fill[ends]]))
