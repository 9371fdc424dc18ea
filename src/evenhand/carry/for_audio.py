"""A map that audio can follow (`for_audio`): what can't be cut apart moves by one amount."""

from dataclasses import replace

import numpy as np

from evenhand.carry.carry import Carry
from evenhand.carry.close import ANCHOR_WEIGHT, FADE_MS, HOLD_MS, LEAD_MS, Room, Spans, join_close
from evenhand.carry.shift_map import ShiftMap
from evenhand.carry.squeeze import guard
from evenhand.columns import Floats, Ints
from evenhand.ground import Ground
from evenhand.kit import ANCHOR
from evenhand.plan import Plan

#: Why a hit does not go where it would go alone.
CUT_AS_ONE = "too near to a neighbour to be cut apart"

#: Attacks lie so much nearer in the audio than in MIDI, at most, ms: triggers and modules report
#: pieces late by other amounts. Common practice.
_NEARER_MS = 5.0

#: What the hand has put somewhere leads a block, then what is held, then anchors.
_NUDGED, _HELD = 4 * ANCHOR_WEIGHT, 2 * ANCHOR_WEIGHT

#: Ticks within which two shifts are one.
_SAME = 1e-6


def close_up(ground: Ground, plan: Plan, carry: Carry) -> Carry:
    """Move what audio can't cut apart by one amount.

    Parameters
    ----------
    ground : Ground
    plan : Plan
    carry : Carry
        Of one map, nudges included.
    """
    tick, time = ground.tick, ground.time
    order = np.argsort(tick, kind="stable")
    # What would go before the start stops there.
    shift = np.maximum(carry.at(tick), -ground.written(tick))
    ms = time.ms(tick)
    weight = (
        ground.hits.velocity
        + ANCHOR_WEIGHT * (ground.hits.role == ANCHOR)
        + _HELD * plan.held.hit
        + _NUDGED * carry.nudged
    )
    alone = Spans(ms[order], ms[order], (time.ms(tick + shift) - ms)[order], weight[order])
    starts, moves = _settle(alone, Room(LEAD_MS, HOLD_MS + _NEARER_MS, FADE_MS))
    block = np.searchsorted(starts, np.arange(len(tick)), side="right") - 1
    ends = np.append(starts[1:], len(tick)) - 1
    first, last = tick[order[starts]], tick[order[ends]]
    goal = time.tick(ms[order[starts]] + moves) - first
    # Whole ticks, so that no tie parts a block; and a block that stops at the start does so whole.
    goal = np.where(ends > starts, np.rint(goal), goal)
    goal = np.maximum(goal, -ground.written(first))
    after = np.empty(len(tick))
    after[order] = goal[block]
    cut = np.abs(after - shift) > _SAME
    reference = ground.strokes.reference
    knots = plan.knots & cut[reference]
    return replace(
        carry,
        maps=(ShiftMap(np.stack([first, last], axis=1).ravel(), np.repeat(goal, 2)),),
        shift=np.where(knots, after[reference], carry.shift),
        squeezed=carry.squeezed | (knots & (np.abs(after - shift)[reference] > 0.5)),
        # How hits lay to the knots is told by the map of strokes, not by this one.
        beside=np.where(carry.beside == "", carry.where(tick), carry.beside),
        cut=cut & (np.abs(after - shift) > 0.5),
    )


def _settle(spans: Spans, room: Room) -> tuple[Ints, Floats]:
    """Where blocks begin, and how far each moves, ms; rule 11 holds between them."""
    starts = np.arange(len(spans))
    while True:
        found = join_close(spans, room)
        starts, spans = starts[found], spans.blocks(found)
        guarded = guard(spans.first, spans.last, spans.shift)[0]
        # The hand wins over the guard.
        shift = np.where(spans.weight >= _NUDGED, spans.shift, guarded)
        if room.fits(spans.first[1:] - spans.last[:-1], np.diff(shift)).all():
            return starts, shift
        spans = replace(spans, shift=shift)
