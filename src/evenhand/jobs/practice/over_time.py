"""Over time: how a figure runs from day to day, and personal bests."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.jobs.practice.measures import BY_KEY, Point
from evenhand.jobs.practice.tempi import TempoGroup, by_tempo
from evenhand.robust import medians, straight_line, thinned

#: Fewest days that a change is told from. Fewer can't beat chance even in perfect order.
FEWEST_DAYS = 6

#: A change is told for this many days.
MONTH = 30


@dataclass(frozen=True)
class CourseKey:
    """What belongs together: one figure of one limb in one tempo group."""

    measure: str
    limb: str
    group: TempoGroup


@dataclass(frozen=True)
class Change:
    """A change that is surely there.

    Attributes
    ----------
    per_day : float
    first, last : float
        The figure on the first and on the last day, on the straight line.
    """

    per_day: float
    first: float
    last: float


@dataclass(frozen=True)
class Course:
    """How a figure runs over days.

    Attributes
    ----------
    key : CourseKey
    takes, days : int
        How many takes on how many days it rests on.
    first, last : date
    middle : float
        Median of the days' medians.
    change : Change, optional
        None where chance would do as well, or there are too few days.
    why_not : str
        Why there is no change to tell; empty if there is one.
    """

    key: CourseKey
    takes: int
    days: int
    first: dt.date
    last: dt.date
    middle: float
    change: Change | None
    why_not: str

    @property
    def per_month(self) -> float:
        """Change in 30 days; NaN where there is none to tell."""
        return MONTH * self.change.per_day if self.change else float("nan")


@dataclass(frozen=True)
class Best:
    """A personal best: the least of a figure, the first of equals.

    Attributes
    ----------
    key : CourseKey
    takes : int
        How many takes it is the best of; at least two.
    point : Point
    latest : Point
        The same figure in the latest take.
    """

    key: CourseKey
    takes: int
    point: Point
    latest: Point


def sorted_by_key(points: Sequence[Point]) -> dict[CourseKey, list[Point]]:
    """The points of each key, in the order of the takes; keys by measure, limb and tempo."""
    found: dict[CourseKey, list[Point]] = defaultdict(list)
    for point in points:
        found[CourseKey(point.measure, point.limb, point.group)].append(point)
    order = list(BY_KEY)

    def place(key: CourseKey) -> tuple[int, int, tuple[bool, int]]:
        limbs = BY_KEY[key.measure].limbs
        limb = limbs.index(key.limb) if key.limb else 0
        return order.index(key.measure), limb, by_tempo(key.group)

    return {key: found[key] for key in sorted(found, key=place)}


def find_courses(points: Mapping[CourseKey, list[Point]], days: Sequence[dt.date]) -> list[Course]:
    """How each figure runs.

    Parameters
    ----------
    points : mapping of CourseKey to list of Point
    days : sequence of date
        The day of each take.
    """
    return [_course(key, mine, days) for key, mine in points.items()]


def _course(key: CourseKey, points: list[Point], days: Sequence[dt.date]) -> Course:
    day = np.array([days[point.take].toordinal() for point in points])
    value = np.array([point.value for point in points])
    each, middle = _by_day(day, value)
    change, why_not = find_change(day, value)
    return Course(
        key=key,
        takes=len(points),
        days=len(each),
        first=dt.date.fromordinal(int(each[0])),
        last=dt.date.fromordinal(int(each[-1])),
        middle=float(np.median(middle)),
        change=change,
        why_not=why_not,
    )


def _by_day(day: Ints, value: Floats) -> tuple[Floats, Floats]:
    """Each day (or block of days), and its median."""
    each, group = np.unique(day, return_inverse=True)
    group, count = thinned(group, len(each))
    days, _ = thinned(np.arange(len(each)), len(each))
    return medians(each, days, count), medians(value, group, count)


def find_change(day: Ints, value: Floats) -> tuple[Change | None, str]:
    """How a figure changes from day to day.

    It is the straight line of the days' medians, as for the trends of an assessment (see
    `evenhand.robust.straight_line`).

    Parameters
    ----------
    day : int64 array, shape (n,)
        The day of each take, n at least 1.
    value : float64 array, shape (n,)

    Returns
    -------
    change : Change or None
    why_not : str
        Why there is none; empty otherwise.
    """
    if len(value) < 2:
        return None, "one take is too few for a trend"
    place, middle = _by_day(day, value)
    n = len(place)
    if n < FEWEST_DAYS:
        few = "1 day is" if n == 1 else f"{n} days are"
        return None, f"{few} too few for a trend (it takes {FEWEST_DAYS})"
    line = straight_line(place, middle)
    if line is None:
        return None, "no sure change"
    first, last = line.at(float(day.min())), line.at(float(day.max()))
    return Change(line.slope, first, last), ""


def find_bests(points: Mapping[CourseKey, list[Point]]) -> list[Best]:
    """Personal bests, wherever there are two takes to choose from."""
    bests = []
    for key, mine in points.items():
        if BY_KEY[key.measure].best and len(mine) > 1:
            least = min(mine, key=lambda point: point.value)
            bests.append(Best(key, len(mine), least, mine[-1]))
    return bests
