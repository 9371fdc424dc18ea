"""The table of contents: a take and a recipe in, a result out."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from evenhand.carry import (
    Carry,
    build_carry,
    close_up,
    find_nudges,
    keep_lasting,
    nudge,
    written,
)
from evenhand.columns import Brief, Floats
from evenhand.errors import SettingError
from evenhand.fitter import Fitted, fit
from evenhand.grid import share_under_grids
from evenhand.ground import Ground, Strokes, prepare, without_latency
from evenhand.kit import GhostLimit, KitMap
from evenhand.outcome import (
    Changes,
    Figures,
    Flag,
    Kept,
    Section,
    compare_feel,
    list_changes,
    list_sections,
    raise_flags,
    take_figures,
)
from evenhand.plan import Plan, Stretch, make_plan
from evenhand.recipe import OFF, ON, Recipe, need_recipe
from evenhand.song import Misfit, find_misfit
from evenhand.take import Hits, Take, check_outputs, need_take, write_files


@dataclass(frozen=True, eq=False)
class Result(Brief):
    """What came of a pass.

    Attributes
    ----------
    ground : Ground
        The take as it was judged: hits, strokes, sections, grid.
    take : Take
        The tightened take.
    plan : Plan
    carry : Carry
    changes : Changes
        What happened to each hit.
    fitted : Fitted, optional
        The fit that came first, if the recipe asks for one.
    """

    ground: Ground
    take: Take
    plan: Plan
    carry: Carry
    changes: Changes
    fitted: Fitted | None = None

    @property
    def before(self) -> Take:
        """The take as read (at the resolution of the recipe)."""
        return self.ground.take

    @property
    def recipe(self) -> Recipe:
        """The settings."""
        return self.ground.recipe

    @property
    def kit(self) -> KitMap:
        """The kit map."""
        return self.ground.kit

    @property
    def ghosts(self) -> GhostLimit:
        """The ghost limit that was used, and why."""
        return self.ground.ghosts

    @property
    def tick(self) -> Floats:
        """When each hit sounds against the lines, in ticks (see `Ground`)."""
        return self.ground.tick

    @property
    def hits(self) -> Hits:
        """The hits as read, in file order, with the pieces and roles that they were judged by."""
        return self.ground.hits

    @property
    def strokes(self) -> Strokes:
        """The strokes in time order."""
        return self.ground.strokes

    @cached_property
    def figures(self) -> Figures:
        """What was found, what was done, how tight the anchors were and are."""
        places, recipe = self.tick[self.strokes.reference], self.recipe
        shares = share_under_grids(places, recipe.swing, self.ground.time, recipe.reach_percent)
        return take_figures(self.changes, self.ground, self.plan, shares)

    @cached_property
    def misfit(self) -> Misfit | None:
        """How the take disagrees with its song, if it plainly does."""
        song = self.recipe.load_song()
        return find_misfit(self.ground.source, song, self.recipe) if song else None

    @cached_property
    def kept(self) -> tuple[Kept, ...]:
        """The feel of each section before and after."""
        return compare_feel(self.changes, self.ground, self.plan, self.carry)

    @cached_property
    def sections(self) -> tuple[Section, ...]:
        """The sections in order, at least one, each with its grid, lean and spread."""
        return list_sections(self.ground, self.kept)

    @property
    def flags(self) -> tuple[Flag, ...]:
        """What to listen to: the listening list."""
        return tuple(flag for flag in self.noted if flag.listed)

    @cached_property
    def noted(self) -> tuple[Flag, ...]:
        """All flags, what was changed before what was left alone."""
        return raise_flags(self.changes, self.ground, self.plan, self.carry)

    def __repr__(self) -> str:
        moved = int((self.changes.action == "moved").sum())
        return f"Result({self.before.name!r}: {moved} of {len(self.changes)} hits moved)"

    def save(self, path: str | Path, overwrite: bool = False) -> tuple[Path, Path]:
        """Write the tightened take and its change log, both whole or neither.

        They are the bytes that `evenhand tighten TAKE -o PATH` writes; the pass is not put on
        record.

        Parameters
        ----------
        path : str or Path
            Of the take; the log goes beside it, as `.changes.csv`.
        overwrite : bool
            Whether files that exist are replaced.

        Returns
        -------
        take, log : Path
            Where they are.

        Raises
        ------
        DiskError
            If a file exists (without `overwrite`), is the take itself, or can't be written.

        Examples
        --------
        >>> result = tighten(read_take("kettle-weather.mid"))
        >>> result.save("weather-tight.mid", overwrite=True)[1].name
        'weather-tight.changes.csv'
        """
        path = Path(path)
        log = path.with_name(f"{path.stem}.changes.csv")
        check_outputs([path, log], [Path(self.ground.source.name)], overwrite)
        files = {log: self.changes.to_csv(), path: self.take.to_bytes()}
        write_files(files, overwrite, tied=[log])
        return path, log


def tighten(take: Take, recipe: Recipe | None = None, ready: Ground | None = None) -> Result:
    """Tighten a take.

    Parameters
    ----------
    take : Take
        Not changed.
    recipe : Recipe, optional
        The settings; defaults if not given.
    ready : Ground, optional
        Of an earlier pass over the same take (`result.ground`): what the settings have in common
        is not found again. The result is the same with and without it.

    Returns
    -------
    Result
        The new take with the plan, the changes, the figures and the flags.

    Raises
    ------
    MidiFileError
        If the take has no drums, or can't be kept whole.
    SettingError
        If a section, a hold or a nudge of the recipe does not fit the take.
    ArgumentError
        If `take` is no take, such as a path, or `recipe` no recipe.

    Examples
    --------
    >>> result = tighten(read_take("kettle-weather.mid"), Recipe(strength=60))
    >>> result.take.save("tighter.mid", overwrite=True)
    >>> len(result.changes) == len(result.hits)
    True
    """
    need_take(take, "tighten")
    recipe = need_recipe(recipe, "tighten")
    if recipe.song is not None and recipe.fit != OFF:
        raise SettingError("fit: the song knows where its bars are; leave --fit or --song away")
    fitted = fit(take, recipe) if recipe.fit != OFF else None
    ground = prepare(fitted.take if fitted else take, recipe, ready)
    plan = make_plan(ground, _find_holds(ground))
    carry = nudge(ground, build_carry(ground, plan), find_nudges(ground, plan))
    if recipe.for_audio == ON:
        carry = close_up(ground, plan, carry)
    changes = list_changes(ground, plan, carry)
    return Result(ground, _carry_all(ground, carry), plan, carry, changes, fitted)


def _find_holds(ground: Ground) -> list[Stretch]:
    """The holds in ticks; one that lies outside the take is refused."""
    take, stretches = ground.take, []
    for hold in ground.recipe.holds:
        try:
            stretch = hold.stretch(take.meter)
        except SettingError as error:
            raise SettingError(f"hold: {error}") from None
        if stretch[0] > take.end:
            end = take.meter.position(take.end)
            raise SettingError(f"hold: {hold.first} lies behind the end of {take.name} ({end})")
        if not hold.bars:
            # In a take beside its lines a place names a line, or where a hit stands in the file.
            ends = np.append(stretch, ground.judged(np.array(stretch)))
            stretch = float(ends.min()), float(ends.max())
        stretches.append(stretch)
    return stretches


def _carry_all(ground: Ground, carry: Carry) -> Take:
    """Every event on the drum channel takes the map of its limb; nothing else moves.

    Only a release that would fall onto its own hit goes a tick further.
    """
    take, channel = ground.take, int(ground.hits.channel[0])
    out = ground.latency + ground.offset
    ticks = []
    for track in take.smf.tracks:
        drums = track.on_channel(channel)
        if not drums.any():
            ticks.append(track.tick)
            continue
        moved = track.tick.copy()
        before = track.tick[drums]
        judged = without_latency(take, before, out)
        kind, note = track.notes(drums)
        limb = carry.limb_of(track.status[drums].astype(np.int64), note)
        after = written(ground, judged, carry.at(judged, limb))
        own = limb if len(carry.maps) > 1 else None
        moved[drums] = keep_lasting(kind, note, before, after, own)
        ticks.append(moved)
    return take.retimed(ticks)
