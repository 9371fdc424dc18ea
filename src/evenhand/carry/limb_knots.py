"""What stands in the map of each limb (rules 18 to 20)."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from evenhand.carry.limb_maps import ALL, EDGE, GROUP, HIT, Knots, limb_maps
from evenhand.carry.one_map import bound_alone
from evenhand.carry.shift_map import ShiftMap
from evenhand.columns import Bools, Floats, Ints, Phrases, differences, indices, numbered
from evenhand.ground import Ground
from evenhand.habit import NAMES
from evenhand.kit import COMMENT, TIMEKEEPER
from evenhand.plan import MOVED, WITH_PUSH, ByHabit, Plan

#: Why a hit in no stroke is a fixed point of its limb.
OWN_TIME, ALONG = "keeps its own time", "along with a stroke that moved"

#: Hits on one line belong together when they are no further apart, ms. Common practice: beyond
#: that they are heard as two.
_ONE_LINE_MS = 90.0

#: How often strokes that would pass hits of other limbs are looked for.
_ROUNDS = 12


@dataclass(frozen=True, eq=False)
class LimbMaps:
    """The maps of all limbs.

    Attributes
    ----------
    maps : tuple of ShiftMap
    shift : float64 array, shape (strokes,)
        In ticks; 0 for strokes that are no knots.
    alone : bool array, shape (strokes,)
        Which strokes moved with their own limb only.
    beside : str array, shape (hits,)
        Why a hit in no stroke is a knot; empty for all others.
    """

    maps: tuple[ShiftMap, ...]
    shift: Floats
    alone: Bools
    beside: Phrases


def map_limbs(ground: Ground, plan: Plan, habit: ByHabit, limb: Ints) -> LimbMaps:
    """Build the map of each limb so that no hit passes one of another limb (rule 20).

    Parameters
    ----------
    ground : Ground
    plan : Plan
    habit : ByHabit
        Of the plan.
    limb : int64 array, shape (hits,)
    """
    look = _Look(ground, plan, habit, limb)
    alone, free = plan.alone, look.free()
    for _ in range(_ROUNDS):
        found = look.build(alone, free)
        swapped = look.swapped(found.maps)
        if not swapped:
            return found
        for first, last in swapped:
            alone = alone & ~ground.strokes.overlap(first, last)
            free = free & ~((ground.tick >= first) & (ground.tick <= last))
    return look.build(np.zeros_like(alone), np.zeros_like(free))


@dataclass(frozen=True, eq=False)
class _Look:
    """Everything that the knots rest on."""

    ground: Ground
    plan: Plan
    habit: ByHabit
    limb: Ints

    @cached_property
    def ms(self) -> Floats:
        """When each hit sounds."""
        return self.ground.time.ms(self.ground.tick)

    def free(self) -> Bools:
        """Hits that may stand in the map of their limb by themselves."""
        strokes = self.ground.strokes
        return (strokes.of_hit < 0) & (strokes.bond < 0) & ~self.plan.held.hit

    def build(self, alone: Bools, free: Bools) -> LimbMaps:
        """The maps, given which strokes move alone and which hits may be knots."""
        limbs, count = len(NAMES), len(self.ground.strokes)
        edges, groups, lead, owned = self._edges_and_groups()
        beside = np.full(len(self.ground.tick), "", np.object_)
        parts = [
            self._strokes(alone),
            edges,
            *self._borders(),
            *self._beside(alone, free, beside),
            *self._reference(free),
        ]
        knots = _numbered(parts, count)
        if not self.limb.any() or (not (knots.limb != ALL).any() and not len(groups)):
            limbs = 1
        maps, shift = limb_maps(knots, limbs)
        if len(groups):
            # Groups that no stroke takes along are carried like their leading hit.
            at = shift_at(maps, self.ground.tick[lead], self.limb[lead])
            at = np.where(np.isnan(owned), at, owned)
            wanted = shift[knots.unit]
            again = Knots(
                knots.first,
                knots.last,
                np.where(np.isnan(wanted), knots.shift, wanted),
                *(knots.limb, knots.unit, knots.kind),
            )
            units = int(knots.unit.max(initial=count - 1)) + 1
            bound = Knots(
                *(groups.first, groups.last, at[groups.unit], groups.limb),
                *(groups.unit + units, groups.kind),
            )
            maps, shift = limb_maps(Knots.joined([again, bound]), limbs)
        own = np.zeros(count)
        own[: len(shift)] = shift[:count]
        return LimbMaps(maps, np.where(self.plan.knots & ~np.isnan(own), own, 0.0), alone, beside)

    def _strokes(self, alone: Bools) -> Knots:
        """Strokes that stay, are held or move together in all maps; the others in their own."""
        strokes, plan = self.ground.strokes, self.plan
        whole = indices(plan.knots & ~alone)
        mine = indices(strokes.spread(plan.knots & alone, False))
        pairs = numbered(strokes.of_hit[mine] * len(NAMES) + self.limb[mine])[0]
        one = np.concatenate([whole, pairs // len(NAMES)])
        limb = np.concatenate([np.full(len(whole), ALL), pairs % len(NAMES)])
        kind = np.full(len(one), GROUP)
        return Knots(strokes.first[one], strokes.last[one], plan.shift[one], limb, one, kind)

    def _edges_and_groups(self) -> tuple[Knots, Knots, Ints, Floats]:
        """Ends of holds; groups that no stroke takes along, their leads, shifts that they have.

        A group stands in the map of each limb that has a part in it.
        """
        ground, plan = self.ground, self.plan
        strokes = ground.strokes
        begin, end, lead = bound_alone(ground.tick, strokes, plan)
        # An edge inside a group that keeps its distances is the group's own.
        group = np.searchsorted(end, plan.edge, side="left")
        inside = np.append(begin, np.inf)[group] <= plan.edge
        owned = np.full(len(begin), np.nan)
        owned[group[inside]] = plan.edge_shift[inside]
        edge = plan.edge[~inside]
        edges = _single(edge, plan.edge_shift[~inside], np.full(len(edge), ALL), EDGE)
        bound = indices((strokes.bond >= 0) & ~strokes.spread(plan.knots, False))
        _, number = numbered(strokes.bond[bound])
        pairs = numbered(number * len(NAMES) + self.limb[bound])[0]
        at = pairs // len(NAMES)
        limb, kind = pairs % len(NAMES), np.full(len(at), GROUP)
        return edges, Knots(begin[at], end[at], np.zeros(len(at)), limb, at, kind), lead, owned

    def _borders(self) -> list[Knots]:
        """The last hit before each border of a push and the first behind it."""
        ground, habit = self.ground, self.habit
        order = np.argsort(ground.tick, kind="stable")
        border = indices(differences(habit.push_shift[order]))
        if not len(border):
            return []
        hit = numbered(np.concatenate([order[border], order[border + 1]]))[0]
        carried = ~ground.strokes.spread(self.plan.knots, False) & ~self.plan.held.hit
        hit = hit[carried[hit] & (ground.strokes.bond[hit] < 0)]
        shift = ground.time.shift(ground.tick[hit], habit.push_shift[hit])
        return [_single(ground.tick[hit], shift, np.full(len(hit), ALL), HIT)]

    def _beside(self, alone: Bools, free: Bools, why: Phrases) -> list[Knots]:
        """What is struck with strokes that move: it goes along, or stays if they move alone."""
        plan, strokes = self.plan, self.ground.strokes
        moved = (plan.fate == MOVED) & (plan.why != WITH_PUSH) & plan.by_habit & self._by_limbs()
        hit, stroke = self._on_lines(moved & ~alone, free)
        why[hit] = ALONG
        parts = [_single(self.ground.tick[hit], plan.shift[stroke], self.limb[hit], HIT)]
        hit, stroke = self._on_lines(moved & alone, free)
        if not len(hit):
            return parts
        part = np.zeros((len(strokes), len(NAMES)), np.bool_)
        member = strokes.of_hit >= 0
        part[strokes.of_hit[member], self.limb[member]] = True
        hit = hit[~part[stroke, self.limb[hit]]]
        why[hit] = OWN_TIME
        shift = self.ground.time.shift(self.ground.tick[hit], self.habit.push_shift[hit])
        return [*parts, _single(self.ground.tick[hit], shift, self.limb[hit], HIT)]

    def _reference(self, free: Bools) -> list[Knots]:
        """Where kick and snare comment, the timekeepers that no stroke moves stay: all maps."""
        ground = self.ground
        commented = [use.section for use in ground.uses if use.taken == COMMENT]
        if not commented:
            return []
        section = ground.layout.sections.of(self.habit.line)
        stays = free & (ground.hits.role == TIMEKEEPER) & np.isin(section, commented)
        stays[self._on_lines(self.plan.fate == "moved", free)[0]] = False
        hit = indices(stays)
        shift = ground.time.shift(ground.tick[hit], self.habit.push_shift[hit])
        return [_single(ground.tick[hit], shift, np.full(len(hit), ALL), HIT)]

    def _by_limbs(self) -> Bools:
        return self.ground.dials.limbs[self.plan.section]

    def _on_lines(self, which: Bools, free: Bools) -> tuple[Ints, Ints]:
        """Free hits on the line of one of some strokes, and which."""
        some, hit = indices(which), indices(free)
        if not len(some) or not len(hit):
            return np.zeros(0, np.int64), np.zeros(0, np.int64)
        line = np.rint(self.plan.line[some])
        order = np.argsort(line, kind="stable")
        some, line = some[order], line[order]
        own = np.rint(self.habit.line[hit])
        at = np.minimum(np.searchsorted(line, own), len(line) - 1)
        away = np.abs(self.ms[hit] - self.ms[self.ground.strokes.reference[some[at]]])
        there = (line[at] == own) & (away < _ONE_LINE_MS)
        return hit[there], some[at[there]]

    def swapped(self, maps: tuple[ShiftMap, ...]) -> list[tuple[float, float]]:
        """Stretches in which a hit passes one that was further away than what is together."""
        if len(maps) == 1:
            return []
        tick = self.ground.tick
        found = []
        for pair in find_swaps(self.ground, tick + shift_at(maps, tick, self.limb)):
            ends = [_around(maps[self.limb[one]], tick[one]) for one in pair]
            found.append((min(one for one, _ in ends), max(one for _, one in ends)))
        return found


def find_swaps(ground: Ground, goal: Floats) -> list[tuple[int, int]]:
    """Hits that would pass one that was further away than what is together, each with that one.

    Parameters
    ----------
    ground : Ground
    goal : float64 array, shape (hits,)
        Where each hit would lie, ticks.
    """
    order = np.argsort(ground.tick, kind="stable")
    ms, after = ground.time.ms(ground.tick[order]), goal[order]
    furthest = np.maximum.accumulate(after)
    # Few lie behind any that was before them.
    late = indices(furthest > after)
    before = np.searchsorted(ms, ms[late] - float(ground.dials.together.min()), "left")
    passes = (before > 0) & (furthest[before - 1] > after[late])
    return [
        (int(order[at]), int(order[np.argmax(after[:count])]))
        for at, count in zip(late[passes].tolist(), before[passes].tolist(), strict=True)
    ]


def shift_at(maps: tuple[ShiftMap, ...], tick: Floats, limb: Ints) -> Floats:
    """The shift of places in the maps of their limbs, ticks."""
    if len(maps) == 1:
        return maps[0].at(tick)
    shift = np.zeros(len(tick))
    for number, one in enumerate(maps):
        mine = indices(limb == number)
        shift[mine] = one.at(tick[mine])
    return shift


def _around(one: ShiftMap, tick: float) -> tuple[float, float]:
    """The knots on both sides of a place."""
    at = int(np.searchsorted(one.tick, tick, "left"))
    end = int(np.searchsorted(one.tick, tick, "right"))
    before = float(one.tick[at - 1]) if at else -np.inf
    return before, float(one.tick[end]) if end < len(one.tick) else np.inf


def _single(tick: Floats, shift: Floats, limb: Ints, kind: int) -> Knots:
    unit = np.full(len(tick), -1)
    return Knots(tick, tick, shift, limb, unit, np.full(len(tick), kind))


def _numbered(parts: list[Knots], strokes: int) -> Knots:
    """All knots; those that are no strokes are a unit each."""
    knots = Knots.joined(parts)
    lone = knots.unit < 0
    unit = np.where(lone, strokes - 1 + np.cumsum(lone), knots.unit)
    return Knots(knots.first, knots.last, knots.shift, knots.limb, unit, knots.kind)
