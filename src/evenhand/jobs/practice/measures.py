"""Measures: what is followed over time, as points that can be compared with each other."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from evenhand.jobs.practice.measuring import Played
from evenhand.jobs.practice.take_figures import ANCHORS, LIMBS, TakeFigures
from evenhand.jobs.practice.tempi import TempoGroup

#: A change of tempo that is just noticed, percent: taken to be the share of the interval by which
#: one tone must be off (Friberg & Sundberg 1995; that it holds for a tempo is from memory).
_TEMPO_NOTICED = 2.5

#: A change of loudness that is plainly heard, dB. Common practice.
_LOUDER_DB = 3.0

# Velocity to level as in the listening page: amplitude goes with the square of velocity, so this
# share of a velocity is that change of level.
_LOUDER_SHARE = 10 ** (_LOUDER_DB / 40) - 1


@dataclass(frozen=True)
class Measure:
    """Something that is followed over time.

    Attributes
    ----------
    key : str
    words : str
        What it is, in a few words.
    unit : str
    limbs : tuple of str
        The limbs it is told for; empty if it speaks of the take.
    best : bool
        Whether less of it is steadier, so that there is a personal best.
    """

    key: str
    words: str
    unit: str
    limbs: tuple[str, ...] = ()
    best: bool = False


MEASURES = (
    Measure("spread", "spread around the own lean", "ms", (ANCHORS, *LIMBS), best=True),
    Measure("lean", "lean against the click (minus is ahead)", "ms", (ANCHORS, *LIMBS)),
    Measure("stray", "stray of the pulse over 16 beats", "ms", best=True),
    Measure("drift", "drift against the click, first to last third", "ms"),
    Measure("tempo drift", "drift of the tempo, first to last third", "%"),
    Measure("wander", "wander of the intervals (exponent)", ""),
    Measure("wander off the click", "wander off the click (exponent)", ""),
    Measure("evenness", "unevenness of the timekeeper in time", "ms", best=True),
    Measure("timekeeper loudness", "spread of the timekeeper in loudness", "velocity", best=True),
    Measure("backbeat loudness", "spread of the backbeats in loudness", "velocity", best=True),
    Measure("ghost loudness", "spread of the ghosts in loudness", "velocity", best=True),
    Measure("ghosts below", "ghosts below the backbeats", "velocity"),
    Measure("apart", "spread between limb and timekeeper", "ms", ("kick", "snare"), best=True),
    Measure("first", "limb against timekeeper (minus is first)", "ms", ("kick", "snare")),
)

BY_KEY = {measure.key: measure for measure in MEASURES}


@dataclass(frozen=True)
class Point:
    """One figure of one take.

    Attributes
    ----------
    take : int
        Index of the take.
    group : TempoGroup
    bpm : float
    measure : str
        A key of `MEASURES`.
    limb : str
        Empty for a measure of the take.
    value : float
        A number, never NaN.
    noticed : float
        How much of it is just noticed; NaN where that makes no sense.
    """

    take: int
    group: TempoGroup
    bpm: float
    measure: str
    limb: str
    value: float
    noticed: float


def points_of(played: Sequence[Played]) -> list[Point]:
    """All figures of all takes that can be compared; what can't be told is left out."""
    return [
        point
        for index, one in enumerate(played)
        if one.figures
        for point in _points(index, one.figures)
        if not math.isnan(point.value)
    ]


def _points(take: int, figures: TakeFigures) -> Iterator[Point]:
    nan = float("nan")
    for row in figures.limbs:
        for measure, value, noticed in (
            ("spread", row.spread_ms, row.noticed_ms),
            ("lean", row.lean_ms, nan),
        ):
            yield Point(take, row.group, row.bpm, measure, row.limb, value, noticed)
    if figures.group is None:
        # The rest speaks of the whole take: at several tempi it compares with nothing.
        return
    held, dynamics, loud = figures.steadiness, figures.dynamics, figures.loudness
    rows: list[tuple[str, str, float, float]] = [
        ("stray", "", held.stray_ms, figures.noticed_ms),
        ("drift", "", held.drift_ms, figures.noticed_ms),
        ("tempo drift", "", held.drift_percent, _TEMPO_NOTICED),
        ("wander", "", held.wander, nan),
        ("wander off the click", "", held.wander_off, nan),
        ("evenness", "", figures.keeper_ms, figures.noticed_ms),
        ("timekeeper loudness", "", loud.spread, _louder(loud.velocity)),
        ("backbeat loudness", "", dynamics.backbeat_spread, _louder(dynamics.backbeat_velocity)),
        ("ghost loudness", "", dynamics.ghost_spread, _louder(dynamics.ghost_velocity)),
        ("ghosts below", "", ghosts_below(figures), nan),
    ]
    for pair in figures.pairs:
        rows.append(("apart", pair.one, pair.spread, figures.noticed_ms))
        rows.append(("first", pair.one, pair.lean, nan))
    for measure, limb, value, noticed in rows:
        yield Point(take, figures.group, figures.bpm, measure, limb, value, noticed)


def ghosts_below(figures: TakeFigures) -> float:
    """How far the middle ghost lies below the middle backbeat; NaN with too few of either."""
    dynamics = figures.dynamics
    if math.isnan(dynamics.ghost_spread) or math.isnan(dynamics.backbeat_spread):
        return float("nan")
    return dynamics.backbeat_velocity - dynamics.ghost_velocity


def _louder(velocity: float) -> float:
    """How many steps of velocity are plainly louder."""
    return velocity * _LOUDER_SHARE
