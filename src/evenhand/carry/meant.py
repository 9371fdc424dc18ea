"""Which hit each nudge of the recipe means."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats
from evenhand.errors import SettingError
from evenhand.ground import Ground
from evenhand.plan import Plan
from evenhand.recipe import Nudge

#: Of a quarter note: a nudge means a hit that is no further away than a thirty-second.
_THIRTY_SECOND = 1 / 8

#: How many hits are named where none is meant.
_NAMED = 3


@dataclass(frozen=True)
class Nudged:
    """A nudge with the hit that it means.

    Attributes
    ----------
    hit : int
    ms : float
        How much further it goes than it was to go.
    together : bool
        Whether all limbs go along.
    """

    hit: int
    ms: float
    together: bool


def find_nudges(ground: Ground, plan: Plan) -> list[Nudged]:
    """Find the hit that each nudge means.

    Parameters
    ----------
    ground : Ground
    plan : Plan
        An early downbeat goes by the name of its line as well.

    Raises
    ------
    SettingError
        If a nudge means no hit, or two mean the same one.
    """
    if not ground.recipe.nudge:
        return []
    strokes = ground.strokes
    line = strokes.spread(np.where(plan.claims, plan.line, np.nan), np.nan)
    limbs = ground.dials.limbs & ground.dials.by_habit
    section = ground.layout.sections.of(ground.tick)
    found: dict[int, Nudged] = {}
    for one in ground.recipe.nudge:
        hit = _by_number(one, ground) if one.hit else _by_place(one, ground, line)
        if hit in found:
            raise SettingError(f"nudge: {one.label} is nudged twice")
        found[hit] = Nudged(hit, one.ms, one.together or not limbs[section[hit]])
    return list(found.values())


def _by_number(nudge: Nudge, ground: Ground) -> int:
    count = len(ground.hits)
    if nudge.hit > count:
        raise SettingError(f"nudge: hit {nudge.hit}: {ground.take.name} has {count} hits")
    return nudge.hit - 1


def _by_place(nudge: Nudge, ground: Ground, line: Floats) -> int:
    """The nearest hit, by where it is or by its line."""
    take, hits = ground.take, ground.hits
    try:
        place = take.meter.to_tick(nudge.place)
    except SettingError as error:
        raise SettingError(f"nudge: {error}") from None
    meant = np.flatnonzero(hits.piece == nudge.piece if nudge.piece else ground.strokes.anchor)
    away = np.fmin(np.abs(ground.tick - place), np.abs(line - place))[meant]
    nearest = meant[np.argsort(away, kind="stable")]
    what = nudge.piece or "anchor"
    if not len(nearest):
        raise SettingError(f"nudge: there is no {what} in {take.name}")
    if away.min() > take.division * _THIRTY_SECOND:
        named = ", ".join(
            f"{take.meter.position(hits.tick[hit])} (hit {hit + 1})" for hit in nearest[:_NAMED]
        )
        raise SettingError(
            f"nudge: there is no {what} within a thirty-second of {nudge.at}; nearest: {named}"
        )
    return int(nearest[0])
