"""What to work on: three plain sentences, each with its figure and where it shows most.

Every figure that scatters is measured in units of what is just noticed of it. From each family the
largest is taken, in the takes of the latest days; of these, the three largest are told. What rests
on one take alone comes after all that rests on several.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.jobs.practice.measures import Point
from evenhand.jobs.practice.over_time import Key
from evenhand.paper.words import many

#: Days with takes that count as now.
RECENT_DAYS = 5

SENTENCES = 3

#: Limbs that keep time; anchors are several at once, ghosts and crashes are placed by feel.
_STEADY = ("", "kick", "snare", "timekeeper", "hat foot", "tom")

#: The families, in the order in which equals are told: which measures, and what is said of them.
_FAMILIES: dict[str, str] = {
    "spread": "{limb} hits scatter by {value:.1f} ms around their own lean",
    "apart": "{limb} and timekeeper, struck together, scatter by {value:.1f} ms against each other",
    "stray": "the pulse strays by {value:.1f} ms over 16 beats",
    "evenness": "the intervals of the timekeeper scatter by {value:.1f} ms",
    "loudness": "the loudness of the timekeeper scatters by {value:.1f} steps of velocity around "
    "its pattern",
    "backbeats": "the backbeats scatter by {value:.1f} steps of velocity",
    "ghosts": "the ghosts scatter by {value:.1f} steps of velocity",
    "drift": "the last third of a take lies {value:.1f} ms {way} than the first against the click",
    "tempo drift": "the last third of a take is {value:.1f} % {way} than the first",
}
_UNITS = {"loudness": "steps", "backbeats": "steps", "ghosts": "steps", "tempo drift": "%"}
_WAYS = {"drift": ("earlier", "later"), "tempo drift": ("slower", "faster")}
_WORK = {
    "spread": "{limb} timing",
    "apart": "{limb} and timekeeper together",
    "stray": "holding the pulse",
    "evenness": "an even timekeeper",
    "loudness": "an evenly loud timekeeper",
    "backbeats": "even backbeats",
    "ghosts": "even ghosts",
    "drift": "staying with the click to the end",
    "tempo drift": "keeping the tempo to the end",
}


@dataclass(frozen=True)
class Advice:
    """One thing to work on.

    Attributes
    ----------
    key : Key
    value : float
        The median over the latest takes.
    noticed : float
        How much of it is just noticed.
    takes : int
        How many takes that rests on.
    worst : Point
        Where it shows most.
    sentence : str
    """

    key: Key
    value: float
    noticed: float
    takes: int
    worst: Point
    sentence: str


def find_advice(
    points: Mapping[Key, list[Point]], days: Sequence[dt.date], names: Sequence[str]
) -> list[Advice]:
    """Find what to work on.

    Parameters
    ----------
    points : mapping of Key to list of Point
    days : sequence of date
        The day of each take.
    names : sequence of str
        What each take is called.

    Returns
    -------
    list of Advice
        At most three, the largest first; fewer where less can be told.
    """
    played = {days[point.take] for mine in points.values() for point in mine}
    recent = set(sorted(played)[-RECENT_DAYS:])
    largest: dict[str, tuple[tuple[bool, float], Key, list[Point]]] = {}
    for key, mine in points.items():
        now = [point for point in mine if days[point.take] in recent]
        if key.measure not in _FAMILIES or key.limb not in _STEADY or not now:
            continue
        noticed = _middle([point.noticed for point in now])
        size = (len(now) > 1, abs(_middle([point.value for point in now])) / noticed)
        if key.measure not in largest or size > largest[key.measure][0]:
            largest[key.measure] = (size, key, now)
    order = list(_FAMILIES)
    ranked = sorted(largest.values(), key=lambda one: order.index(one[1].measure))
    ranked.sort(key=lambda one: one[0], reverse=True)
    return [_advice(key, now, names) for _, key, now in ranked[:SENTENCES]]


def _middle(values: list[float]) -> float:
    return float(np.median(values))


def _advice(key: Key, now: list[Point], names: Sequence[str]) -> Advice:
    value = _middle([point.value for point in now])
    noticed = _middle([point.noticed for point in now])
    worst = max(now, key=lambda point: abs(point.value))
    early, late = _WAYS.get(key.measure, ("", ""))
    said = _FAMILIES[key.measure].format(
        limb=key.limb, value=abs(value), way=early if value < 0 else late
    )
    unit = _UNITS.get(key.measure, "ms")
    most = f"most in {names[worst.take]}, {abs(worst.value):.1f} {unit}; " if len(now) > 1 else ""
    sentence = (
        f"Work on {_WORK[key.measure].format(limb=key.limb)}: at {key.group} {said} "
        f"({many(len(now), 'take')}; {most}{noticed:.1f} {unit} "
        f"{'are plainly heard' if unit == 'steps' else 'are just noticed'})."
    )
    return Advice(key, value, noticed, len(now), worst, sentence)
