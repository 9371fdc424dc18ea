"""The assessment: a take and a recipe in, a view of the take out; nothing is moved."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from evenhand.columns import Bools, Brief, Floats, median
from evenhand.grid import STRAIGHT, Choice, Grid
from evenhand.ground import Ground, prepare, say_tempo
from evenhand.kit import ANCHOR, GHOST, TIMEKEEPER
from evenhand.measure import (
    Dynamics,
    Evenness,
    Lean,
    Limbs,
    Measured,
    Outlier,
    Swing,
    find_dynamics,
    find_evenness,
    find_limbs,
    find_outliers,
    find_swing,
    measure,
    sum_up,
)
from evenhand.part import Together, place_part, read_part, sit_together
from evenhand.pulse import Hints, can_tell, find_tempo, gathers, keeps_time, onsets_of
from evenhand.recipe import ON, Recipe, need_recipe
from evenhand.song import find_misfit
from evenhand.take import Hits, Take, need_take

#: Strength to suggest where the grid is sure, and where it is in doubt, percent. Common practice:
#: the less sure the line, the smaller the step towards it.
SURE_STRENGTH, DOUBTFUL_STRENGTH = 75.0, 50.0

# Hits of a piece before its lean counts for the latency.
_ENOUGH = 20


@dataclass(frozen=True)
class Advice:
    """Settings to begin with: ms and percent."""

    grid: str
    swing: float
    window: float
    strength: float


@dataclass(frozen=True)
class Latency:
    """What could be a constant latency of the recording chain.

    Attributes
    ----------
    ms : float
        The middle deviation of strokes and timekeepers; plus is late.
    apart : float
        How far the pieces differ in it (largest minus smallest median of the pieces with enough
        hits), ms: a chain delays all alike, a drummer does not.
    """

    ms: float
    apart: float


@dataclass(frozen=True, eq=False)
class View(Brief):
    """What is to be said about a stretch of the take.

    Attributes
    ----------
    label : str
    first_bar, last_bar : int
    grid : Grid or None
    choice : Choice, optional
        The evidence for the grid; None where it was given.
    anchors : Lean
    pieces : dict of str to Lean
        Most played first.
    limbs : tuple of Limbs
    swing : Swing, optional
    evenness : Evenness, optional
    dynamics : Dynamics
    advice : Advice
    """

    label: str
    first_bar: int
    last_bar: int
    grid: Grid | None
    choice: Choice | None
    anchors: Lean
    pieces: dict[str, Lean]
    limbs: tuple[Limbs, ...]
    swing: Swing | None
    evenness: Evenness | None
    dynamics: Dynamics
    advice: Advice


@dataclass(frozen=True, eq=False)
class Assessment(Brief):
    """A view of a take.

    Attributes
    ----------
    ground : Ground
    measured : Measured
    whole : View
    latency : Latency
    tempo_doubt : str
        Why the file's tempo can't be what was played, in words; empty if it can.
    together : Together, optional
        How the take sits with the other player that the recipe names.
    """

    ground: Ground
    measured: Measured
    whole: View
    latency: Latency
    tempo_doubt: str
    together: Together | None = None

    @property
    def views(self) -> tuple[View, ...]:
        """The sections, or the whole take where there is only one: at least one view, in order."""
        return self.sections or (self.whole,)

    @property
    def hits(self) -> Hits:
        """The hits with their pieces and roles, in file order."""
        return self.ground.hits

    # Practice does without these two.
    @cached_property
    def sections(self) -> tuple[View, ...]:
        """Each section; empty if there is only one."""
        look = _Viewed(self.ground, self.measured)
        count = len(self.ground.layout.sections)
        return tuple(look.section(index) for index in range(count)) if count > 1 else ()

    @cached_property
    def outliers(self) -> list[Outlier]:
        """Furthest first; strokes by their index in `ground.strokes`."""
        return _Viewed(self.ground, self.measured).outliers(self.sections or (self.whole,))


def assess(take: Take, recipe: Recipe | None = None) -> Assessment:
    """Form a view of a take.

    Parameters
    ----------
    take : Take
        Not changed.
    recipe : Recipe, optional
        The settings; defaults if not given.

    Returns
    -------
    Assessment
        Times in ms, minus is ahead; shares in percent.

    Raises
    ------
    MidiFileError
        If the take has no drums.
    SettingError
        If a section of the recipe does not fit the take.
    ArgumentError
        If `take` is no take, such as a path, or `recipe` no recipe.

    Examples
    --------
    >>> view = assess(read_take("kettle-weather.mid")).views[1]
    >>> view.first_bar, view.anchors.hits > 0
    (2, True)
    """
    need_take(take, "assess")
    recipe = need_recipe(recipe, "assess")
    ground = prepare(take, recipe)
    measured = measure(ground)
    look = _Viewed(ground, measured)
    layout = ground.layout
    every = np.ones(len(ground.hits), np.bool_)
    grids = set(layout.grids)
    common = layout.grids[0] if len(grids) == 1 else (layout.whole and layout.whole.lines)
    bars = (1, measured.last_bar)
    whole = look.view("all", every, bars, common or None, layout.whole)
    return Assessment(
        ground,
        measured,
        whole,
        _latency(ground, whole),
        _doubt_song(ground) or doubt_tempo(ground),
        _together(ground, measured),
    )


def _together(ground: Ground, measured: Measured) -> Together | None:
    named = ground.recipe.load_against()
    if named is None:
        return None
    return sit_together(ground, measured, place_part(read_part(*named, ground.kit), ground))


def _doubt_song(ground: Ground) -> str:
    """Say how the take disagrees with its song; nothing if it doesn't, or there is none."""
    song = ground.recipe.load_song()
    misfit = find_misfit(ground.source, song, ground.recipe) if song else None
    return misfit.text if misfit else ""


def _latency(ground: Ground, whole: View) -> Latency:
    leans = [one.lean for one in whole.pieces.values() if one.lined >= _ENOUGH]
    return Latency(ground.offset + ground.lean, float(np.ptp(leans)) if leans else 0.0)


def doubt_tempo(ground: Ground) -> str:
    """Say why the tempo in the file can't be what was played; nothing if it can.

    It can't if the hits have another one (see `Whole`), or gather on no part of the beat at all.
    """
    if ground.whole.other:
        return say_tempo(ground.whole.other)
    if ground.recipe.tempo_as_filed == ON:
        return ""
    time, tick = ground.time, ground.hits.tick
    onsets = onsets_of(ground.hits)
    if not can_tell(onsets) or gathers((tick - time.bars_at(tick).start) / time.division):
        return ""
    frequency, _, _ = find_tempo(onsets, Hints())
    if gathers(onsets.s * frequency) and keeps_time(onsets, frequency):
        return ""
    return (
        f"the hits gather on no part of the beat at {tempo_text(time.tempo.bpm)} bpm: if there was "
        "no click, lay bars and beats under them with `evenhand fit --follow`"
    )


def tempo_text(bpm: Floats) -> str:
    """`120`, or the range."""
    low, high = f"{bpm.min():.4g}", f"{bpm.max():.4g}"
    return low if low == high else f"{low} to {high}"


@dataclass(frozen=True, eq=False)
class _Viewed:
    """Everything that a view looks at."""

    ground: Ground
    measured: Measured

    @cached_property
    def ms(self) -> Floats:
        """When each hit sounds."""
        return self.ground.take.tempo.to_ms(self.ground.tick)

    def section(self, index: int) -> View:
        layout = self.ground.layout
        choice = layout.choices[index] if layout.choices else None
        sections, which = layout.sections, self.measured.section == index
        label, bars = sections.labels[index], sections.bars[index]
        return self.view(label, which, bars, layout.grids[index], choice)

    def view(
        self,
        label: str,
        which: Bools,
        bars: tuple[int, int],
        grid: Grid | None,
        choice: Choice | None,
    ) -> View:
        hits, meter = self.ground.hits, self.ground.take.meter
        anchor = which & (hits.role == ANCHOR)
        keeper = which & (hits.role == TIMEKEEPER)
        anchors = sum_up(self.measured, anchor)
        names, counts = np.unique(hits.piece[which], return_counts=True)
        order = np.lexsort((names, -counts))
        pieces = {
            str(names[i]): sum_up(
                self.measured, which & (hits.piece == names[i]) & (hits.role != GHOST)
            )
            for i in order
        }
        swing = find_swing(self.ground.tick, self.ms, keeper, grid or Grid(16), meter)
        return View(
            label=label,
            first_bar=bars[0],
            last_bar=bars[1],
            grid=grid,
            choice=choice,
            anchors=anchors,
            pieces={name: lean for name, lean in pieces.items() if lean.hits},
            limbs=self._limbs(which),
            swing=swing,
            evenness=find_evenness(hits, keeper, self.measured.line, self.measured.deviation),
            dynamics=find_dynamics(hits, anchor & self._backbeat(), which & (hits.role == GHOST)),
            advice=self._advice(which, grid, choice, anchors),
        )

    def _limbs(self, which: Bools) -> tuple[Limbs, ...]:
        hits = self.ground.hits
        keeper = which & (hits.role == TIMEKEEPER)
        found = [
            find_limbs(
                hits, np.where(which, self.ms, np.inf), piece, keeper & (hits.piece == other), other
            )
            for piece in ("kick", "snare")
            for other in ("hat", "ride")
        ]
        return tuple(one for one in found if one)

    def _backbeat(self) -> Bools:
        """Snare hits on the second and fourth quarter of 4/4; elsewhere all of them."""
        ground = self.ground
        bars = ground.take.meter.bars_at(self.measured.line)
        beat = (self.measured.line - bars.start) / bars.beat_ticks
        common = np.isclose(bars.stop - bars.start, 4 * ground.take.division)
        on_beat = np.isclose(beat, 1, atol=0.01) | np.isclose(beat, 3, atol=0.01)
        return np.asarray((ground.hits.piece == "snare") & (on_beat | ~common))

    def _advice(
        self, which: Bools, grid: Grid | None, choice: Choice | None, anchors: Lean
    ) -> Advice:
        """Suggest settings: the window is the take's own usual spread, no less than is noticed."""
        width = self.measured.admissible.half[which]
        least = median(width) if len(width) else 6.0
        window = max(least, anchors.robust if not math.isnan(anchors.robust) else 0.0)
        sure = choice is None or not choice.doubt
        return Advice(
            grid="auto" if grid is None else grid.name,
            swing=STRAIGHT if grid is None else grid.swing,
            window=math.ceil(window * 2) / 2,
            strength=SURE_STRENGTH if sure else DOUBTFUL_STRENGTH,
        )

    def outliers(self, views: tuple[View, ...]) -> list[Outlier]:
        reference = self.ground.strokes.reference
        lean = np.array([view.anchors.lean for view in views])
        section = self.measured.section[reference] if len(views) > 1 else 0 * reference
        return find_outliers(
            self.measured.deviation[reference],
            lean[section],
            self.measured.admissible.at(reference),
            self.measured.line[reference],
        )
