"""The ground is prepared: hits named, sections, ornaments, fills, strokes, the grid.

A page that turns dials prepares it again and again: what came before is handed in, and only what
rests on a setting that has changed is found anew.
"""

from collections.abc import Mapping
from dataclasses import fields, replace
from enum import IntEnum
from typing import Any

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.grid import STRAIGHT, Choice, Grid, Layout, find_layout, lines_at
from evenhand.ground.bonds import find_bonds
from evenhand.ground.by_use import uses_in
from evenhand.ground.dials import read_dials
from evenhand.ground.fills import Fills, find_fills, loose_fills, no_fills
from evenhand.ground.fills_by_hand import overrule
from evenhand.ground.ground import Divided, Ground, telling_places
from evenhand.ground.ornaments import Ornaments, find_ornaments, no_ornaments
from evenhand.ground.strokes import find_strokes
from evenhand.ground.whole import AS_FILED, hear_whole
from evenhand.kit import GRACE, ROLL, label
from evenhand.recipe import AS_PLAYED, ON, TIGHT, Recipe
from evenhand.sections import Wanted, find_sections, overlay
from evenhand.take import Hits, Take, in_roles


class Depth(IntEnum):
    """How much of a ground a change of settings makes anew; each takes in those before it."""

    DIALS = 0
    GRID = 1
    STROKES = 2
    ALL = 3


#: How deep each setting reaches, in the defaults as in a section; any other reaches to the bottom.
REACHES: Mapping[str, Depth] = {
    **dict.fromkeys(("strength", "reach", "window", "lean", "lean_follow"), Depth.DIALS),
    **dict.fromkeys(("plan", "span_cost", "syncopation", "hold", "nudge"), Depth.DIALS),
    **dict.fromkeys(("habit", "habit_from", "most", "notice", "carry", "for_audio"), Depth.DIALS),
    **dict.fromkeys(("grid", "swing"), Depth.GRID),
    **dict.fromkeys(("together", "ornaments", "fills", "fill_landing"), Depth.STROKES),
    **dict.fromkeys(("fill", "groove"), Depth.STROKES),
}


def prepare(take: Take, recipe: Recipe, ready: Ground | None = None) -> Ground:
    """Name the hits, find sections, ornaments, fills, strokes and grid.

    Parameters
    ----------
    take : Take
    recipe : Recipe
    ready : Ground, optional
        Of the same take under other settings: what they have in common is not found again. A
        ground of another take is of no use, and does no harm.

    Raises
    ------
    MidiFileError
        If the take has no drums.
    SettingError
        If a section of the recipe does not fit the take.
    """
    depth = Depth.ALL if ready is None or ready.source is not take else _depth(ready.recipe, recipe)
    if ready is None or depth == Depth.ALL:
        return _from_scratch(take, recipe)
    recipes = _recipes(recipe, ready.owner)
    now = replace(ready, recipe=recipe, recipes=recipes, dials=read_dials(recipes))
    if depth == Depth.STROKES:
        return _judged(now, before=ready)
    return replace(now, layout=_layout(now, now.telling)) if depth == Depth.GRID else now


def _depth(before: Recipe, after: Recipe) -> Depth:
    """How deep what differs between two recipes reaches."""
    old, new = before.settings(), after.settings()
    tables = (old.pop("section"), new.pop("section"))
    changed = _differences(old, new)
    places = [[(one.get("name"), one.get("bars")) for one in some] for some in tables]
    if places[0] != places[1]:
        return Depth.ALL
    for one, other in zip(*tables, strict=True):
        changed |= _differences(one, other)
    # Dials decide whether roles are told by what hits do.
    for index in range(-1, len(before.section)):
        if before.for_section(index).roles_by_use != after.for_section(index).roles_by_use:
            changed.add("roles")
    depth = max((REACHES.get(name, Depth.ALL) for name in changed), default=Depth.DIALS)
    # A latency that is found rests on the grid.
    return Depth.ALL if depth > Depth.DIALS and after.latency_ms is None else depth


def _differences(one: Mapping[str, Any], other: Mapping[str, Any]) -> set[str]:
    missing = object()
    return {name for name in {*one, *other} if one.get(name, missing) != other.get(name, missing)}


def _from_scratch(source: Take, recipe: Recipe) -> Ground:
    kit = recipe.load_kit()
    song = recipe.load_song()
    take = (song.lay(source) if song else source).finer(recipe.resolution)
    hits, ghosts = label(take.struck(recipe.channel), kit, recipe.anchor, recipe.ghost_limit)

    def judged(latency: float) -> Ground:
        tick = without_latency(take, hits.tick, latency)
        whole = AS_FILED if recipe.tempo_as_filed == ON else hear_whole(hits, tick, take.time)
        tick = without_latency(take, hits.tick, latency + whole.offset)
        seen = without_latency(take, hits.tick, latency + whole.offset + whole.lean)
        found = find_sections(take, seen, hits, recipe.sections)
        wanted = [Wanted(one.name, one.span, one.label) for one in recipe.section]
        sections, owner = overlay(found, wanted, take.meter, take.end)
        recipes = _recipes(recipe, owner)
        divided = Divided(
            *(source, take, recipe, kit, hits, ghosts),
            *(latency, whole, tick, sections, recipes, owner),
        )
        return _judged(replace(divided, named=_relabelled(divided)))

    if recipe.latency_ms is not None:
        return judged(recipe.latency_ms)
    as_written = judged(0.0)
    # As if it were set by hand to what can be written down again.
    latency = round(as_written.offset + as_written.lean, 1)
    return judged(latency) if latency else as_written


def _recipes(recipe: Recipe, owner: Ints) -> tuple[Recipe, ...]:
    """The settings of each section."""
    own = {index: recipe.for_section(index) for index in set(owner.tolist())}
    return tuple(own[index] for index in owner.tolist())


def _section_of_hits(divided: Divided) -> Ints:
    """An early downbeat belongs to the section that it opens."""
    if len(divided.sections) == 1:
        return np.zeros(len(divided.tick), np.int64)
    return divided.sections.of(
        lines_at(divided.seen(divided.tick), Grid(16), divided.time.meter).tick
    )


def _relabelled(divided: Divided) -> Hits:
    """Name the roles anew in sections with anchors or a ghost limit of their own."""
    hits, recipe = divided.named, divided.recipe
    for index, one in enumerate(divided.recipes):
        if (one.anchor, one.ghost_limit) != (recipe.anchor, recipe.ghost_limit):
            own, _ = label(divided.named, divided.kit, one.anchor, one.ghost_limit)
            mine = _section_of_hits(divided) == index
            hits = in_roles(hits, np.where(mine, own.role, hits.role))
    return hits


def _judged(divided: Divided, before: Ground | None = None) -> Ground:
    """Find ornaments, fills, strokes and grid; the grid only if it rests on other places now."""
    hits, tick, time, recipes = divided.named, divided.tick, divided.time, divided.recipes
    section = _section_of_hits(divided)
    ornaments = _ornaments(divided, section)
    if ornaments.grace.any() or ornaments.roll.any():
        role = np.where(ornaments.grace, GRACE, hits.role)
        hits = in_roles(hits, np.where(ornaments.roll, ROLL, role))
    by_use = np.array([one.roles_by_use for one in recipes])
    hits, uses = uses_in(hits, divided.seen(tick), section, by_use, time.meter)
    played = _fills(divided, hits)
    ms = time.ms(tick)
    bond, anchor = find_bonds(ms, hits.role, ornaments, time.ms(played.end))
    together = np.array([one.together for one in recipes])[section]
    strokes = find_strokes(tick, ms, hits, anchor, together, bond)
    telling = telling_places(tick, hits, strokes, divided.named)
    same = before and _grids(before.recipes) == _grids(recipes)
    if before and same and np.array_equal(telling, before.telling):
        layout = before.layout
    else:
        layout = _layout(divided, telling)
    return Ground(
        **{field.name: getattr(divided, field.name) for field in fields(Divided)},
        hits=hits,
        uses=uses,
        ornaments=ornaments,
        fills=played,
        strokes=strokes,
        layout=layout,
        dials=read_dials(recipes),
    )


def _grids(recipes: tuple[Recipe, ...]) -> list[tuple[Grid | None, float]]:
    return [(one.lines, one.swing) for one in recipes]


def _ornaments(divided: Divided, section: Ints) -> Ornaments:
    """The ornaments in the sections that want them looked for."""
    hits, tick, time = divided.named, divided.tick, divided.time
    wanted = np.array([one.ornaments == ON for one in divided.recipes])[section]
    if not wanted.any():
        return no_ornaments(len(tick))
    sixteenth = time.tempo.ms_per_tick_at(tick) * time.division / 4
    names, number = hits.by_piece
    piece = (names, np.where(wanted, number, -1))
    return find_ornaments(time.ms(tick), hits.velocity, piece, sixteenth)


def _fills(divided: Divided, hits: Hits) -> Fills:
    """The fills in the sections that treat them in a way of their own."""
    recipes = divided.recipes
    if all(one.fills == TIGHT for one in recipes):
        return no_fills()
    found = find_fills(divided.seen(divided.tick), hits.by_piece, hits.role, divided.time.meter)
    stretches = np.stack([found.begin, found.end], axis=1)
    found = loose_fills(overrule(stretches, divided.recipe, divided.take))
    section = divided.sections.of(found.begin)
    mode = np.array([one.fills for one in recipes])[section]
    landing = np.array([one.fill_landing for one in recipes])[section]
    found = replace(found, as_played=mode == AS_PLAYED, landing_as_played=landing == AS_PLAYED)
    return found.only(mode != TIGHT)


def without_latency(take: Take, tick: Ints, latency: float) -> Floats:
    """Times with the latency taken out, in ticks.

    Parameters
    ----------
    take : Take
    tick : int64 array, shape (n,)
    latency : float
        How late all is, ms.
    """
    if not latency:
        return tick.astype(np.float64)
    return take.time.tick(take.time.ms(tick) - latency)


def _layout(divided: Divided, telling: Floats) -> Layout:
    """The grid of each section: as given, or found."""
    recipes, sections = divided.recipes, divided.sections
    grids = [one.lines for one in recipes]
    choices: list[Choice] = []
    whole = None
    for percent in dict.fromkeys(one.swing for one in recipes if one.lines is None):
        swing = None if percent == STRAIGHT else percent
        found = find_layout(divided.seen(telling), sections, divided.time, swing)
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
