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
from evenhand.jobs.practice.over_time import CourseKey
from evenhand.paper import many

#: Days with takes that count as now.
RECENT_DAYS = 5

SENTENCES = 3

#: Limbs that keep time; anchors are several at once, ghosts and crashes are placed by feel.
_STEADY = ("", "kick", "snare", "timekeeper", "hat foot", "toms")


@dataclass(frozen=True)
class _Family:
    """What is said of a measure.

    Attributes
    ----------
    work : str
        What to work on.
    said : str
        The figure in words.
    unit : str
    ways : tuple of str
        What a figure below and above nothing is called, where it has two ways to go.
    """

    work: str
    said: str
    unit: str = "ms"
    ways: tuple[str, str] = ("", "")


#: The families, in the order in which equals are told.
_FAMILIES = {
    "spread": _Family("{limb} timing", "{limb} hits scatter by {value} around their own lean"),
    "apart": _Family(
        "{limb} and timekeeper together",
        "{limb} and timekeeper, struck together, scatter by {value} against each other",
    ),
    "stray": _Family("holding the pulse", "the pulse strays by {value} over 16 beats"),
    "evenness": _Family("an even timekeeper", "the intervals of the timekeeper scatter by {value}"),
    "timekeeper loudness": _Family(
        "an evenly loud timekeeper",
        "the loudness of the timekeeper scatters by {value} around its pattern",
        "steps of velocity",
    ),
    "backbeat loudness": _Family(
        "even backbeats",
        "the loudness of the backbeats scatters by {value}",
        "steps of velocity",
    ),
    "ghost loudness": _Family(
        "even ghosts", "the loudness of the ghosts scatters by {value}", "steps of velocity"
    ),
    "drift": _Family(
        "staying with the click to the end",
        "the last third of a take lies {value} {way} against the click than the first",
        ways=("earlier", "later"),
    ),
    "tempo drift": _Family(
        "keeping the tempo to the end",
        "the last third of a take is {value} {way} than the first",
        "%",
        ("slower", "faster"),
    ),
}


@dataclass(frozen=True)
class WorkOn:
    """One thing to work on.

    Attributes
    ----------
    key : CourseKey
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

    key: CourseKey
    value: float
    noticed: float
    takes: int
    worst: Point
    sentence: str


def find_advice(
    points: Mapping[CourseKey, list[Point]], days: Sequence[dt.date], names: Sequence[str]
) -> list[WorkOn]:
    """Find what to work on.

    Parameters
    ----------
    points : mapping of CourseKey to list of Point
    days : sequence of date
        The day of each take.
    names : sequence of str
        What each take is called.

    Returns
    -------
    list of WorkOn
        At most three, the largest first; fewer where less can be told.
    """
    played = {days[point.take] for mine in points.values() for point in mine}
    recent = set(sorted(played)[-RECENT_DAYS:])
    largest: dict[str, tuple[tuple[bool, float], CourseKey, list[Point]]] = {}
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


def _advice(key: CourseKey, now: list[Point], names: Sequence[str]) -> WorkOn:
    value = _middle([point.value for point in now])
    noticed = _middle([point.noticed for point in now])
    worst = max(now, key=lambda point: abs(point.value))
    family = _FAMILIES[key.measure]
    limb = key.limb.removesuffix("s")
    said = family.said.format(
        limb=limb, value=f"{abs(value):.1f} {family.unit}", way=family.ways[value > 0]
    )
    most = f"most in {names[worst.take]}, {abs(worst.value):.1f}; " if len(now) > 1 else ""
    # Of time it is known what is just noticed, of loudness only what is plainly heard.
    heard = "plainly heard" if family.unit == "steps of velocity" else "just noticed"
    sentence = (
        f"Work on {family.work.format(limb=limb)}: at {key.group} {said} "
        f"({many(len(now), 'take')}; {most}{noticed:.1f} {family.unit} are {heard})."
    )
    return WorkOn(key, value, noticed, len(now), worst, sentence)
