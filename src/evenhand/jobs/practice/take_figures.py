"""The figures of one practice take."""

import re
from dataclasses import dataclass, field, replace

import numpy as np

from evenhand.assessor import Assessment, assess
from evenhand.columns import Bools, Floats
from evenhand.fitter import fit
from evenhand.jobs.practice.beats import Steadiness, find_pulse, find_steadiness
from evenhand.jobs.practice.loudness import Loudness, find_loudness
from evenhand.jobs.practice.tempi import WIDTH, TempoGroup, group_lows
from evenhand.kit import ACCENT, ANCHOR, FILL, GHOST, GRACE, ROLL, TIMEKEEPER
from evenhand.measure import Dynamics, Limbs, find_evenness, find_limbs, noticed, sum_up
from evenhand.paper import grid_name
from evenhand.recipe import OFF, Recipe
from evenhand.take import Take

#: Fewest hits (or pairs of them) that a lean, a spread or an evenness is told for. A spread of n
#: hits errs by about 1 / √(2n) of itself: 18 % at 16.
ENOUGH = 16

#: The limbs, in the order in which they are told. All anchors together are the first.
ANCHORS = "anchors"
LIMBS = ("kick", "snare", "ghosts", "timekeeper", "hat foot", "toms", "crashes")


@dataclass(frozen=True)
class LimbFigures:
    """One limb at one tempo; NaN where there are too few hits to tell.

    Attributes
    ----------
    group : TempoGroup
    limb : str
        `anchors` or one of `LIMBS`.
    hits, lined : int
        Hits, and how many of them belong to a line; the rest speaks of these.
    bpm : float
        Their middle tempo.
    lean_ms : float
        Median deviation; minus is ahead. NaN without a click: the lines were laid under the hits.
    spread_ms : float
        Standard deviation.
    noticed_ms : float
        What a listener just notices at that tempo.
    """

    group: TempoGroup
    limb: str
    hits: int
    lined: int
    bpm: float
    lean_ms: float
    spread_ms: float
    noticed_ms: float


@dataclass(frozen=True)
class TakeFigures:
    """What one take tells; NaN where there is too little to tell.

    Attributes
    ----------
    hits, bars : int
    minutes : float
        From the first hit to the last.
    bpm : float
        Middle tempo of the hits.
    click : bool
        Whether the take keeps to the tempo of its file; otherwise its own tempo was found.
    group : TempoGroup, optional
        None where the tempo moves through several.
    grid : str
    noticed_ms : float
    anchors : LimbFigures
        At all tempi.
    limbs : tuple of LimbFigures
        At each tempo: all anchors, then each limb.
    steadiness : Steadiness
    keeper : str
        The most played timekeeper; empty if there is none.
    keeper_ms : float
        Standard deviation of its intervals against those of the lines.
    loudness : Loudness
        How evenly it is struck.
    dynamics : Dynamics
        Backbeats and ghosts.
    pairs : tuple of Limbs
        Kick and snare against the timekeeper, where they are struck together.
    note : str
        What is to be known about all that.
    """

    hits: int
    bars: int
    minutes: float
    bpm: float
    click: bool
    group: TempoGroup | None
    grid: str
    noticed_ms: float
    anchors: LimbFigures
    limbs: tuple[LimbFigures, ...] = field(repr=False)
    steadiness: Steadiness = field(repr=False)
    keeper: str
    keeper_ms: float
    loudness: Loudness
    dynamics: Dynamics
    pairs: tuple[Limbs, ...]
    note: str

    def pair(self, limb: str) -> Limbs | None:
        """One limb against the timekeeper, if they meet often enough."""
        return next((one for one in self.pairs if one.one == limb), None)


def figures_of(take: Take, recipe: Recipe | None = None, width: int = WIDTH) -> TakeFigures:
    """Measure a take.

    Where the hits don't keep to the file's tempo (see `evenhand.assessor.doubt_tempo`), or the
    recipe asks for a fit, bars and beats are laid under what was played first.

    Parameters
    ----------
    take : Take
        Not changed.
    recipe : Recipe, optional
    width : int
        Width of a tempo group, bpm.

    Raises
    ------
    MidiFileError
        If the take has no drums, or no tempo can be told.
    """
    recipe = recipe or Recipe()
    found, note = _assessed(take, recipe)
    return _Sheet(found, click=not note, note=note, width=width).figures()


def _assessed(take: Take, recipe: Recipe) -> tuple[Assessment, str]:
    """The assessment, and why the tempo is not the file's; nothing if it is."""
    if recipe.fit == OFF:
        found = assess(take, recipe)
        if not found.tempo_doubt:
            return found, ""
        why = "not played to the tempo of its file; own tempo found"
    else:
        why = "own tempo found, as the recipe says"
    fitted = fit(take, recipe)
    # What a doubt says of options of another command is of no use here.
    doubts = [re.sub(r" \(say with [^)]*\)", "", doubt) for doubt in fitted.fit.doubts]
    note = f"{why}, but {', and '.join(doubts)}" if doubts else why
    return assess(fitted.take, recipe), note


@dataclass(frozen=True, eq=False)
class _Sheet:
    """Everything the figures are read from."""

    found: Assessment
    click: bool
    note: str
    width: int

    @property
    def bpm(self) -> Floats:
        """The tempo at each hit's line, quarters a minute."""
        take = self.found.ground.take
        quarter = take.tempo.ms_per_tick_at(self.found.measured.line) * take.division
        return np.asarray(60_000 / quarter)

    def figures(self) -> TakeFigures:
        ground, whole = self.found.ground, self.found.whole
        ms = ground.take.tempo.to_ms(ground.tick)
        bpm = self.bpm
        lows = group_lows(bpm, self.width)
        groups = [TempoGroup(low, self.width, self.click) for low in np.unique(lows).tolist()]
        every = np.ones(len(bpm), np.bool_)
        limbs = [
            row
            for group in groups
            for limb, which in self.limbs().items()
            if (row := self.row(group, limb, which & (lows == group.low))).hits
        ]
        keeper = self.limbs()["timekeeper"]
        measured = self.found.measured
        even = find_evenness(ground.hits, keeper, measured.line, measured.deviation)
        told = even is not None and even.pairs >= ENOUGH
        anchors = self.limbs()[ANCHORS]
        dynamics = whole.dynamics
        return TakeFigures(
            hits=len(bpm),
            bars=int(np.ptp(self.found.measured.bar)) + 1,
            minutes=float(np.ptp(ms)) / 60_000,
            bpm=float(np.median(bpm)),
            click=self.click,
            group=groups[0] if len(groups) == 1 else None,
            grid=grid_name(whole.grid),
            noticed_ms=self.noticed(every),
            anchors=self.row(groups[0], ANCHORS, anchors),
            limbs=tuple(limbs),
            steadiness=find_steadiness(find_pulse(ground, self.found.measured), self.click),
            keeper=even.piece if even else "",
            keeper_ms=even.spread if told and even else float("nan"),
            loudness=self.loudness(even.piece if even else ""),
            dynamics=replace(
                dynamics,
                backbeat_spread=_told(dynamics.backbeat_spread, dynamics.backbeats),
                ghost_spread=_told(dynamics.ghost_spread, dynamics.ghosts),
            ),
            pairs=self.pairs(ms),
            note=self.note,
        )

    def noticed(self, which: Bools) -> float:
        time, line = self.found.ground.time, self.found.measured.line
        return float(np.median(noticed(line[which], time)))

    def foot(self) -> Bools:
        """Hits of the hat's pedal."""
        sounds, note = self.found.ground.kit.sounds, self.found.ground.hits.note
        pedal = [number for number, sound in sounds.items() if sound.zone == "pedal"]
        return np.isin(note, pedal)

    def limbs(self) -> dict[str, Bools]:
        """The hits of each limb. Graces and rolls lie off the grid on purpose."""
        hits, foot = self.found.ground.hits, self.foot()
        plain = ~np.isin(hits.role, [GHOST, GRACE, ROLL])
        snare = np.isin(hits.piece, ["snare", "side stick"])
        masks = (
            plain & (hits.piece == "kick"),
            plain & snare,
            hits.role == GHOST,
            (hits.role == TIMEKEEPER) & ~foot,
            plain & foot,
            hits.role == FILL,
            hits.role == ACCENT,
        )
        return {ANCHORS: hits.role == ANCHOR, **dict(zip(LIMBS, masks, strict=True))}

    def row(self, group: TempoGroup, limb: str, which: Bools) -> LimbFigures:
        lean = sum_up(self.found.measured, which)
        any_hit = bool(which.any())
        return LimbFigures(
            group=group,
            limb=limb,
            hits=lean.hits,
            lined=lean.lined,
            bpm=float(np.median(self.bpm[which])) if any_hit else float("nan"),
            lean_ms=_told(lean.lean, lean.lined) if self.click else float("nan"),
            spread_ms=_told(lean.spread, lean.lined),
            noticed_ms=self.noticed(which) if any_hit else float("nan"),
        )

    def loudness(self, keeper: str) -> Loudness:
        ground, measured = self.found.ground, self.found.measured
        hits = ground.hits
        mine = (hits.role == TIMEKEEPER) & (hits.piece == keeper) & ~self.foot() & measured.lined
        bars = ground.take.meter.bars_at(measured.line[mine])
        beat = (measured.line[mine] - bars.start) / bars.beat_ticks
        # An open and a closed hat are two sounds: their loudness is not one evenness.
        voice = measured.section[mine] * 128 + hits.note[mine]
        found = find_loudness(hits.velocity[mine], voice, beat)
        return replace(found, spread=_told(found.spread, found.hits))

    def pairs(self, ms: Floats) -> tuple[Limbs, ...]:
        hits = self.found.ground.hits
        keeper = (hits.role == TIMEKEEPER) & ~self.foot()
        pairs = [find_limbs(hits, ms, one, keeper, "timekeeper") for one in ("kick", "snare")]
        return tuple(pair for pair in pairs if pair and pair.pairs >= ENOUGH)


def _told(figure: float, count: int) -> float:
    return figure if count >= ENOUGH else float("nan")
