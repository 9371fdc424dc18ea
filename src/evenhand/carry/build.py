"""The maps of time, from the plan."""

import numpy as np

from evenhand.carry.carry import Carry
from evenhand.carry.limb_knots import map_limbs, shift_at
from evenhand.carry.one_map import one_map
from evenhand.carry.shift_map import ShiftMap
from evenhand.carry.to_habit import lean_maps
from evenhand.columns import Bools, Floats, Ints, among
from evenhand.ground import Ground
from evenhand.habit import NO_LIMB, find_limbs
from evenhand.kit import KitMap
from evenhand.plan import OUTSIDE, STANDS_OUT, WITH_HABIT, WITH_RUN, Plan
from evenhand.recipe import ON

#: Why a stroke moves less far than it should.
LIMITED = "outside the window but limited by a neighbour"
LIMITED_OUT = "stands out but limited by a neighbour"

#: Ticks that a shift may miss what was wanted by: noise of floating point.
_SLACK = 1e-6

_NOTES = 128


def build_carry(ground: Ground, plan: Plan) -> Carry:
    """Build the maps of time from the plan."""
    of_note = limb_of_note(ground.kit)
    limb = of_note[ground.hits.note]
    # Microphones can't be taken apart: for audio all hits are one limb's.
    carried = np.zeros_like(limb) if ground.recipe.for_audio == ON else limb
    if plan.habit is None:
        knots, shift, squeezed = one_map(ground, plan)
        maps: tuple[ShiftMap, ...] = (knots,)
        alone = np.zeros(len(shift), np.bool_)
        beside = np.full(len(limb), "", np.object_)
    else:
        found = map_limbs(ground, plan, plan.habit, carried)
        maps, shift, alone, beside = found.maps, found.shift, found.alone, found.beside
        squeezed = _short(plan, shift)
    leaned = np.zeros(len(limb))
    if plan.habit and plan.habit.towards:
        before = shift_at(maps, ground.tick, carried)
        maps = lean_maps(ground, plan, plan.habit.towards, maps, carried)
        leaned = shift_at(maps, ground.tick, carried) - before
        free = (leaned != 0) & (ground.strokes.of_hit < 0)
        beside = np.where(free, WITH_HABIT, beside)
    why = plan.why
    if squeezed.any():
        why = np.where(squeezed & (plan.why == OUTSIDE), LIMITED, why)
        why = np.where(squeezed & among(plan.why, (STANDS_OUT, WITH_RUN)), LIMITED_OUT, why)
    return Carry(
        maps=maps,
        limb=limb,
        limb_of_note=of_note,
        shift=shift,
        squeezed=squeezed,
        why=why,
        alone=alone,
        beside=beside,
        leaned=leaned,
        nudged=np.zeros(len(limb), np.bool_),
        cut=np.zeros(len(limb), np.bool_),
    )


def limb_of_note(kit: KitMap) -> Ints:
    """The limb that plays each note number."""
    limb = np.full(_NOTES, NO_LIMB)
    sounds = list(kit.sounds.values())
    pedal = np.array([one.zone == "pedal" for one in sounds], np.bool_)
    limb[list(kit.sounds)] = find_limbs(np.array([one.piece for one in sounds], np.str_), pedal)
    return limb


def _short(plan: Plan, shift: Floats) -> Bools:
    return plan.knots & (np.abs(shift - plan.shift) > _SLACK)
