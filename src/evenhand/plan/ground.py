"""The ground that a pass and an assessment stand on: hits named, strokes, sections, the grid."""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.grid import STRAIGHT, Choice, Grid, Layout, belongs, find_layout, lines_at
from evenhand.kit import GRACE, ROLL, TIMEKEEPER, GhostLimit, KitMap, label
from evenhand.plan.bonds import find_bonds
from evenhand.plan.dials import Dials, spread_dials
from evenhand.plan.fills import Fills, find_fills, no_fills
from evenhand.plan.ornaments import Ornaments, find_ornaments, no_ornaments
from evenhand.plan.strokes import Strokes, find_strokes
from evenhand.recipe import AS_PLAYED, ON, TIGHT, Recipe
from evenhand.sections import Sections, Wanted, find_sections, overlay
from evenhand.take import Hits, Take


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
    recipes : tuple of Recipe
        The settings of each section.
    owner : int64 array, shape (sections,)
        The section of the recipe that each is; -1 for none.
    ornaments : Ornaments
    fills : Fills
        Those that are not treated like anything else.
    """

    take: Take
    kit: KitMap
    hits: Hits
    ghosts: GhostLimit
    latency: float
    tick: Floats
    strokes: Strokes
    layout: Layout
    recipes: tuple[Recipe, ...]
    owner: Ints
    ornaments: Ornaments
    fills: Fills

    @property
    def dials(self) -> Dials:
        """The settings for each stroke: those of the section that its line lies in."""
        line = self.layout.lines_at(self.tick[self.strokes.reference], self.take.meter).tick
        section = self.layout.sections.of(line)
        return spread_dials(section, [one.settings() for one in self.recipes])

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


def prepare(take: Take, recipe: Recipe) -> Ground:
    """Name the hits, find sections, ornaments, fills, strokes and grid.

    Parameters
    ----------
    take : Take
    recipe : Recipe

    Raises
    ------
    MidiFileError
        If the take has no drums.
    SettingError
        If a section of the recipe does not fit the take.
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
    found = find_sections(take, tick, hits, recipe.sections)
    wanted = [Wanted(one.name, one.span, one.label) for one in recipe.section]
    sections, owner = overlay(found, wanted, take.meter, take.end)
    recipes = tuple(recipe.for_section(index) for index in owner.tolist())
    # An early downbeat belongs to the section that it opens.
    section = sections.of(lines_at(tick, Grid(16), take.meter).tick)

    hits = _relabelled(hits, kit, recipe, recipes, section)
    ms = take.tempo.to_ms(tick)
    ornaments = _ornaments(take, tick, hits, recipes, section)
    hits = replace(hits, role=np.where(ornaments.grace, GRACE, hits.role))
    hits = replace(hits, role=np.where(ornaments.roll, ROLL, hits.role))
    fills = _fills(take, tick, hits, recipes, sections)
    bond, anchor = find_bonds(ms, hits.role, ornaments, take.tempo.to_ms(fills.end))
    together = np.array([one.together for one in recipes])[section]
    strokes = find_strokes(tick, ms, hits.velocity, hits.note, anchor, together, bond)
    layout = _layout(take, recipes, _telling(tick, hits, strokes), sections)
    return Ground(
        take, kit, hits, ghosts, latency, tick, strokes, layout, recipes, owner, ornaments, fills
    )


def _relabelled(
    hits: Hits, kit: KitMap, recipe: Recipe, recipes: tuple[Recipe, ...], section: Ints
) -> Hits:
    """Name the roles anew in sections with anchors or a ghost limit of their own."""
    role = hits.role.copy()
    for index, one in enumerate(recipes):
        if (one.anchor, one.ghost_limit) != (recipe.anchor, recipe.ghost_limit):
            own, _ = label(hits, kit, one.anchor, one.ghost_limit)
            role = np.where(section == index, own.role, role)
    return replace(hits, role=role)


def _ornaments(
    take: Take, tick: Floats, hits: Hits, recipes: tuple[Recipe, ...], section: Ints
) -> Ornaments:
    """The ornaments in the sections that want them looked for."""
    wanted = np.array([one.ornaments == ON for one in recipes])[section]
    if not wanted.any():
        return no_ornaments(len(tick))
    sixteenth = take.tempo.ms_per_tick_at(tick) * take.division / 4
    piece = np.where(wanted, hits.piece, "")
    return find_ornaments(take.tempo.to_ms(tick), hits.velocity, piece, sixteenth)


def _fills(
    take: Take, tick: Floats, hits: Hits, recipes: tuple[Recipe, ...], sections: Sections
) -> Fills:
    """The fills in the sections that treat them in a way of their own."""
    if all(one.fills == TIGHT for one in recipes):
        return no_fills()
    found = find_fills(tick, hits.piece, hits.role, take.meter)
    mode = np.array([one.fills for one in recipes])[sections.of(found.begin)]
    landing = np.array([one.fill_landing for one in recipes])[sections.of(found.begin)]
    found = replace(found, as_played=mode == AS_PLAYED, landing_as_played=landing == AS_PLAYED)
    return found.only(mode != TIGHT)


def without_latency(take: Take, tick: Ints, latency: float) -> Floats:
    """Times with the latency taken out, in ticks."""
    if not latency:
        return tick.astype(np.float64)
    return take.tempo.to_tick(take.tempo.to_ms(tick) - latency)


def _telling(tick: Floats, hits: Hits, strokes: Strokes) -> Floats:
    return np.concatenate([tick[strokes.reference], tick[hits.role == TIMEKEEPER]])


def _layout(take: Take, recipes: tuple[Recipe, ...], telling: Floats, sections: Sections) -> Layout:
    """The grid of each section: as given, or found."""
    grids = [one.lines for one in recipes]
    choices: list[Choice] = []
    whole = None
    for percent in dict.fromkeys(one.swing for one in recipes if one.lines is None):
        swing = None if percent == STRAIGHT else percent
        found = find_layout(telling, sections, take.tempo, take.meter, swing)
        whole, choices = whole or found.whole, choices or list(found.choices)
        for index, one in enumerate(recipes):
            if one.lines is None and one.swing == percent:
                grids[index], choices[index] = found.grids[index], found.choices[index]
    for index, one in enumerate(recipes):
        if choices and one.lines:
            # What was given is in no doubt.
            choices[index] = replace(
                choices[index], grid=one.lines.name, swing=one.lines.swing, doubt=""
            )
    return Layout(sections, tuple(grids), tuple(choices), whole)
