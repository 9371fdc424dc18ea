"""What the habit says of each stroke (rules 15 to 20): line, target, fate, shift."""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Bools, Floats, Ints, numbered
from evenhand.ground import Ground, SectionDials
from evenhand.habit import find_lines, find_sounding, find_voices, near_lines
from evenhand.kit import TIMEKEEPER
from evenhand.measure import Admissible, nearest, noticed
from evenhand.plan import standing_out
from evenhand.plan.standing_out import Heard, Verdict, Wishes, judge, limit_for
from evenhand.plan.targets import Targets
from evenhand.plan.towards import Towards, find_towards
from evenhand.plan.verdicts import (
    BEYOND_MOST,
    DOUBTFUL,
    DOUBTFUL_LINE,
    KEPT,
    LESS_EVEN,
    MOVED,
    NO_STRENGTH_LEFT,
    STANDS_OUT,
    STOPPED,
    TAKEN,
    TOO_FAR,
    UNEVEN,
    USUAL,
    WITH_PUSH,
    WITH_RUN,
    Verdicts,
)

#: A stroke that could go no further than this share of its way before it would pass a hit of
#: another limb goes together with that.
_HALF = 0.5

#: Lines of one voice that strokes share: their numbers are kept apart by this many voices.
_VOICES = 1024


@dataclass(frozen=True, eq=False)
class Pushed:
    """The pushes of a take, p of them: bars that ran ahead or behind as a whole.

    Attributes
    ----------
    first, last : int64 arrays, shape (p,)
        Bars, both included.
    ms : float64 array, shape (p,)
        How far they ran behind; minus is ahead.
    shift : float64 array, shape (p,)
        By how much they are moved, ms.
    of_hit : int64 array, shape (hits,)
        The push of each hit; -1 for none.
    """

    first: Ints
    last: Ints
    ms: Floats
    shift: Floats
    of_hit: Ints


@dataclass(frozen=True, eq=False)
class ByHabit:
    """What the habit says of n hits and s strokes.

    Attributes
    ----------
    verdict : Verdict
    verdicts : Verdicts
        Fate and reason of each stroke.
    goal : Targets
    line : float64 array, shape (n,)
        The line of each hit, ticks.
    off : float64 array, shape (n,)
        How far each hit is from where it usually lies, ms.
    shift : float64 array, shape (s,)
        By how much each stroke is to move, ms.
    alone : bool array, shape (s,)
        Which strokes move with their own limb only.
    pushed : Pushed
    push_shift : float64 array, shape (n,)
        By how much each hit is to move with the bars that ran, ms.
    towards : Towards, optional
        How far each goes besides towards the habit that the recipe asks for; None without one.
    """

    verdict: Verdict
    verdicts: Verdicts
    goal: Targets
    line: Floats
    off: Floats
    shift: Floats
    alone: Bools
    pushed: Pushed
    push_shift: Floats
    towards: Towards | None


def ask_habit(ground: Ground) -> ByHabit:
    """Judge every stroke by what this drummer usually does."""
    hits, strokes, time = ground.hits, ground.strokes, ground.time
    reference = strokes.reference
    voice = find_voices(hits)
    belonging = find_lines(near_lines(ground.tick, ground.layout, time), voice)
    line = belonging.line[reference]
    dials = ground.dials.at(ground.layout.sections.of(line))
    heard = Heard(
        belonging=belonging,
        reference=reference,
        keeper=hits.role == TIMEKEEPER,
        anchor=strokes.anchor,
        velocity=hits.velocity,
        voice=voice,
        noticed=noticed(line, time),
        sounding=find_sounding(ground.tick, voice, reference, time),
    )
    limit = limit_for(dials.notice)
    wishes = Wishes(dials.strength, dials.lean, dials.habit, dials.most, limit)
    if ground.recipe.habit_from is not None:
        # Slips are told by the own habit, whatever takes its place.
        wishes = Wishes(dials.strength, most=dials.most, limit=limit)
    verdict = judge(heard, wishes)
    towards = find_towards(ground, belonging, verdict)
    if towards:
        verdict = _with_habit(verdict, towards)
    verdict, stopped = _stopped(ground, verdict, dials.together)
    section, pushes = ground.layout.sections.of(belonging.line), verdict.pushes
    strength = np.where(ground.dials.by_habit, ground.dials.strength, 0.0)[section]
    push_shift = -strength / 100 * verdict.pushed
    goal = _goal(ground, verdict, dials, voice[reference])
    if towards:
        goal = replace(goal, lean=goal.lean + np.nan_to_num(towards.stroke))
    moved = verdict.fate == standing_out.MOVED
    pushed = Pushed(
        pushes.first,
        pushes.last,
        pushes.ms,
        np.array([_one(push_shift[verdict.push_of_hit == one]) for one in range(len(pushes))]),
        verdict.push_of_hit,
    )
    return ByHabit(
        verdict=verdict,
        verdicts=_verdicts(verdict, goal, stopped, push_shift[reference]),
        goal=goal,
        line=belonging.line,
        off=verdict.off,
        shift=np.where(moved & goal.claims, verdict.shift, push_shift[reference]),
        alone=verdict.alone & dials.limbs & moved & goal.claims,
        pushed=pushed,
        push_shift=push_shift,
        towards=towards,
    )


def _with_habit(verdict: Verdict, towards: Towards) -> Verdict:
    """The verdict with what another habit is too far off for carried."""
    far = np.isnan(towards.stroke)
    carried = far & (verdict.fate != standing_out.DOUBTFUL)
    return replace(
        verdict,
        fate=np.where(carried, standing_out.TOO_FAR, verdict.fate),
        shift=np.where(carried, 0.0, verdict.shift),
        alone=verdict.alone & ~carried,
    )


def _one(shifts: Floats) -> float:
    return float(shifts[np.argmax(np.abs(shifts))]) if len(shifts) else 0.0


def _stopped(ground: Ground, verdict: Verdict, together: Floats) -> tuple[Verdict, Bools]:
    """Lone strokes stop at the first hit that they would pass, or move with what is around them."""
    ms = ground.time.ms(ground.tick)
    in_order = np.concatenate([[-np.inf], np.sort(ms), [np.inf]])
    begin = ms[ground.strokes.reference]
    behind = in_order[np.searchsorted(in_order, begin + together, "right")]
    before = in_order[np.searchsorted(in_order, begin - together, "left") - 1]
    room = np.clip(begin + verdict.shift, before, behind) - begin
    enough = np.abs(room) >= _HALF * np.abs(verdict.shift)
    alone = verdict.alone & enough
    stopped = alone & (np.abs(room) < np.abs(verdict.shift))
    shift = np.where(stopped, room, verdict.shift)
    return replace(verdict, alone=alone, shift=shift), stopped


def _goal(ground: Ground, verdict: Verdict, dials: SectionDials, voice: Ints) -> Targets:
    near = verdict.fate != standing_out.DOUBTFUL
    # Two strokes of one piece on one line: the nearer to its target has it.
    kept, which = numbered(np.rint(verdict.line).astype(np.int64) * _VOICES + voice)
    claims = near
    if len(kept) < len(which):
        claims = near & nearest(which.astype(np.float64), np.abs(verdict.excess), near)
    return Targets(
        line=verdict.line,
        deviation=verdict.deviation,
        lean=verdict.usual,
        admissible=Admissible(verdict.early, verdict.late),
        near=near,
        claims=claims,
        fill=ground.fills.of(verdict.line),
        dials=dials,
    )


def _verdicts(verdict: Verdict, goal: Targets, stopped: Bools, push: Floats) -> Verdicts:
    said = Verdicts.none(len(verdict.line))
    fate, strength = verdict.fate, goal.dials.strength
    moved = fate == standing_out.MOVED
    said.say(fate == standing_out.KEPT, KEPT, USUAL)
    said.say(moved, MOVED, STANDS_OUT)
    said.say(moved & verdict.carried_run, MOVED, WITH_RUN)
    said.say(moved & stopped, MOVED, STOPPED)
    said.say(moved & (strength == 0), MOVED, NO_STRENGTH_LEFT)
    said.say(fate == standing_out.DOUBTFUL, DOUBTFUL, DOUBTFUL_LINE)
    said.say(fate == standing_out.TOO_FAR, TOO_FAR, BEYOND_MOST)
    said.say(fate == standing_out.UNEVEN, UNEVEN, LESS_EVEN)
    said.say(goal.near & ~goal.claims, DOUBTFUL, TAKEN)
    said.say((said.fate != MOVED) & (push != 0), MOVED, WITH_PUSH)
    return said
