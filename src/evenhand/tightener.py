"""The table of contents: a take and a recipe in, a result out."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from evenhand.carry.changes import Changes, list_changes
from evenhand.carry.figures import Figures, take_figures
from evenhand.carry.flags import Flag, raise_flags
from evenhand.carry.releases import keep_lasting
from evenhand.carry.shift_map import Carry, build_carry
from evenhand.columns import Floats, Ints
from evenhand.errors import SettingError
from evenhand.grid.lines import share_under_grids
from evenhand.kit.maps import KitMap
from evenhand.kit.pieces import ANCHOR
from evenhand.kit.roles import GhostLimit, label
from evenhand.plan.holds import Stretch
from evenhand.plan.plan import Plan, make_plan
from evenhand.plan.strokes import Strokes, find_strokes
from evenhand.recipe import Recipe
from evenhand.take.take import Take


@dataclass(frozen=True, eq=False)
class Result:
    """What came of a pass.

    Attributes
    ----------
    before : Take
        The take as read (at the resolution of the recipe).
    take : Take
        The tightened take.
    recipe : Recipe
    kit : KitMap
    ghosts : GhostLimit
        The ghost limit that was used, and why.
    tick : float64 array, shape (hits,)
        When each hit sounds, the latency taken out, in ticks.
    strokes : Strokes
    plan : Plan
    carry : Carry
    changes : Changes
        What happened to each hit.
    """

    before: Take
    take: Take
    recipe: Recipe
    kit: KitMap
    ghosts: GhostLimit
    tick: Floats
    strokes: Strokes
    plan: Plan
    carry: Carry
    changes: Changes

    @cached_property
    def figures(self) -> Figures:
        """What was found, what was done, how tight the anchors were and are."""
        shares = share_under_grids(
            self.tick[self.strokes.reference],
            self.recipe.swing,
            self.before.tempo,
            self.before.meter,
            self.recipe.reach,
        )
        return take_figures(self.changes, self.strokes, self.plan, shares)

    @cached_property
    def flags(self) -> tuple[Flag, ...]:
        """What to listen to, worst first."""
        return raise_flags(
            self.changes,
            self.strokes,
            self.plan,
            self.carry,
            self.kit.unknown(self.changes.hits.note),
            self.tick,
            self.before.tempo,
            self.before.meter,
        )


def tighten(take: Take, recipe: Recipe | None = None) -> Result:
    """Tighten a take.

    Parameters
    ----------
    take : Take
        Not changed.
    recipe : Recipe, optional
        The settings; defaults if not given.

    Returns
    -------
    Result
        The new take with the plan, the changes, the figures and the flags.

    Raises
    ------
    MidiFileError
        If the take has no drums, or can't be kept whole.
    SettingError
        If a hold lies outside the take.

    Examples
    --------
    >>> result = tighten(read_take("take.mid"), Recipe(strength=60))  # doctest: +SKIP
    >>> result.take.save("take-tight.mid")  # doctest: +SKIP
    """
    recipe = recipe or Recipe()
    kit = recipe.load_kit()
    take = take.finer(recipe.resolution)
    tempo, meter = take.tempo, take.meter
    hits, ghosts = label(take.hits(recipe.channel), kit, recipe.anchor, recipe.ghost_limit)
    tick = _without_latency(take, hits.tick, recipe.latency)
    strokes = find_strokes(
        tick, tempo.to_ms(tick), hits.velocity, hits.note, hits.role == ANCHOR, recipe.together
    )
    plan = make_plan(
        tick,
        strokes,
        recipe.lines,
        tempo,
        meter,
        reach=recipe.reach,
        window=recipe.window_ms,
        strength=recipe.strength,
        holds=_find_holds(take, recipe),
    )
    carry = build_carry(tick, strokes, plan)
    tightened = _carry_all(take, int(hits.channel[0]), carry, recipe.latency)
    changes = list_changes(
        hits, tick, carry.map.moved(tick), strokes, plan, carry, tempo, meter, recipe.strength
    )
    return Result(take, tightened, recipe, kit, ghosts, tick, strokes, plan, carry, changes)


def _without_latency(take: Take, tick: Ints, latency: float) -> Floats:
    """Times with the latency taken out, in ticks."""
    if not latency:
        return tick.astype(np.float64)
    return take.tempo.to_tick(take.tempo.to_ms(tick) - latency)


def _find_holds(take: Take, recipe: Recipe) -> list[Stretch]:
    """The holds in ticks; one that lies outside the take is refused."""
    stretches = []
    for first, last in recipe.holds:
        try:
            stretch = take.meter.stretch(first, last)
        except SettingError as error:
            raise SettingError(f"hold: {error}") from None
        if stretch[0] > take.end:
            end = take.meter.position(take.end)
            raise SettingError(f"hold: {first} lies behind the end of {take.name} ({end})")
        stretches.append(stretch)
    return stretches


def _carry_all(take: Take, channel: int, carry: Carry, latency: float) -> Take:
    """Every event on the drum channel takes the map; nothing else moves.

    Only a release that would fall onto its own hit goes a tick further.
    """
    ticks = []
    for track in take.smf.tracks:
        drums = track.on_channel(channel)
        moved = track.tick.copy()
        before = track.tick[drums]
        after = carry.map.moved(_without_latency(take, before, latency))
        moved[drums] = keep_lasting(*track.notes(drums), before, after)
        ticks.append(moved)
    return take.retimed(ticks)
