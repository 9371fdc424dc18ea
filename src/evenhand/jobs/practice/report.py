"""The report: folders and settings in, everything that is told out."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.jobs.practice.gather import Gathered
from evenhand.jobs.practice.measures import Point, points_of
from evenhand.jobs.practice.measuring import Played
from evenhand.jobs.practice.over_time import (
    Best,
    Course,
    CourseKey,
    find_bests,
    find_courses,
    sorted_by_key,
)
from evenhand.jobs.practice.work_on import WorkOn, find_advice


@dataclass(frozen=True, eq=False)
class Report:
    """Everything that is told about some practice takes.

    Attributes
    ----------
    gathered : Gathered
    played : tuple of Played
        In the order of the takes.
    points : dict of CourseKey to list of Point
    courses : tuple of Course
    bests : tuple of Best
    advice : tuple of WorkOn
    """

    gathered: Gathered
    played: tuple[Played, ...]
    points: dict[CourseKey, list[Point]]
    courses: tuple[Course, ...]
    bests: tuple[Best, ...]
    advice: tuple[WorkOn, ...]

    @property
    def failed(self) -> list[tuple[str, str]]:
        """Takes and folders that tell nothing, and why."""
        bad = [(one.found.name, one.reason) for one in self.played if not one.figures]
        return [*bad, *self.gathered.closed]

    @property
    def days(self) -> list[dt.date]:
        """The day of each take."""
        return [one.found.when.date() for one in self.played]


def make_report(gathered: Gathered, played: Sequence[Played]) -> Report:
    """Put takes that were measured into a report."""
    points = sorted_by_key(points_of(played))
    days = [one.found.when.date() for one in played]
    names = [one.found.name for one in played]
    return Report(
        gathered=gathered,
        played=tuple(played),
        points=points,
        courses=tuple(find_courses(points, days)),
        bests=tuple(find_bests(points)),
        advice=tuple(find_advice(points, days, names)),
    )
