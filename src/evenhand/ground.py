"""The ground that a pass and an assessment stand on: hits named, strokes, sections, the grid."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.grid.find_sections import find_sections
from evenhand.grid.layout import Layout, find_layout, fixed_layout
from evenhand.grid.lines import STRAIGHT, belongs
from evenhand.grid.sections import Sections
from evenhand.kit.maps import KitMap
from evenhand.kit.pieces import ANCHOR, TIMEKEEPER
from evenhand.kit.roles import GhostLimit, label
from evenhand.plan.strokes import Strokes, find_strokes
from evenhand.recipe import Recipe
from evenhand.take.hits import Hits
from evenhand.take.take import Take


@dataclass(frozen=True, eq=False)
class Ground:
    """A take as it is judged.

    Attributes
    ----------
    take : Take
        At the resolution of the recipe.
    kit : KitMap
    hits : Hits
        With pieces and roles named.
    ghosts : GhostLimit
    latency : float
        What is taken out of every hit, ms.
    tick : float64 array, shape (hits,)
        When each hit sounds, the latency taken out, in ticks.
    strokes : Strokes
    layout : Layout
        The grid of each section.
    """

    take: Take
    kit: KitMap
    hits: Hits
    ghosts: GhostLimit
    latency: float
    tick: Floats
    strokes: Strokes
    layout: Layout

    @property
    def telling(self) -> Floats:
        """Places that tell the grid, in ticks: one per stroke, one per hit of a timekeeper."""
        return _telling(self.tick, self.hits, self.strokes)

    @property
    def lean(self) -> float:
        """Middle deviation of those places that belong to a line, ms; 0 without any."""
        tempo, tick = self.take.tempo, self.telling
        lines = self.layout.lines_at(tick, self.take.meter)
        near = belongs(tick, lines, tempo, _CERTAIN_REACH) & self.layout.explained(tick)
        if not near.any():
            return 0.0
        return float(np.median(tempo.to_ms(tick[near]) - tempo.to_ms(lines.tick[near])))


#: Reach for measuring a lean, percent of the gap: all that is nearer to this line than to others.
_CERTAIN_REACH = 50.0


def prepare(take: Take, recipe: Recipe, *, sections: bool = False) -> Ground:
    """Name the hits, find strokes, sections and grid.

    Parameters
    ----------
    take : Take
    recipe : Recipe
    sections : bool
        Whether sections are wanted even where the grid does not ask for them.
    """
    kit = recipe.load_kit()
    take = take.finer(recipe.resolution)
    hits, ghosts = label(take.hits(recipe.channel), kit, recipe.anchor, recipe.ghost_limit)
    latency = recipe.latency_ms
    if latency is None:
        blank = recipe.with_settings({"latency": 0.0, "resolution": None})
        # As if it were set by hand to what can be written down again.
        latency = round(prepare(take, blank).lean, 1)
    tick = without_latency(take, hits.tick, latency)
    anchor = hits.role == ANCHOR
    strokes = find_strokes(
        tick, take.tempo.to_ms(tick), hits.velocity, hits.note, anchor, recipe.together
    )
    if recipe.lines and not sections:
        layout = fixed_layout(recipe.lines)
    else:
        found = find_sections(take, tick, hits, recipe.sections)
        layout = _layout(take, recipe, _telling(tick, hits, strokes), found)
    return Ground(take, kit, hits, ghosts, latency, tick, strokes, layout)


def without_latency(take: Take, tick: Ints, latency: float) -> Floats:
    """Times with the latency taken out, in ticks."""
    if not latency:
        return tick.astype(np.float64)
    return take.tempo.to_tick(take.tempo.to_ms(tick) - latency)


def _telling(tick: Floats, hits: Hits, strokes: Strokes) -> Floats:
    return np.concatenate([tick[strokes.reference], tick[hits.role == TIMEKEEPER]])


def _layout(take: Take, recipe: Recipe, telling: Floats, sections: Sections) -> Layout:
    if recipe.lines:
        return fixed_layout(recipe.lines, sections)
    swing = None if recipe.swing == STRAIGHT else recipe.swing
    return find_layout(telling, sections, take.tempo, take.meter, swing)
