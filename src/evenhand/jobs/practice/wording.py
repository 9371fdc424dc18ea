"""The report in words for the terminal, and as plain values for JSON."""

import datetime as dt
import math
from collections import Counter
from typing import Any

from evenhand import __version__
from evenhand.jobs.practice.csv_files import COLUMNS, rows_of
from evenhand.jobs.practice.measures import BY_KEY
from evenhand.jobs.practice.over_time import FEWEST_DAYS, MONTH, Course, CourseKey
from evenhand.jobs.practice.report import Report
from evenhand.jobs.practice.take_figures import ANCHORS
from evenhand.jobs.practice.tempi import TempoGroup, by_tempo
from evenhand.paper import Facts, Page, Table, many

#: What the table of tempi shows of each: the measure, its limb, and the head of its column.
_SHOWN = (
    ("spread", ANCHORS, "spread ms"),
    ("stray", "", "stray ms"),
    ("evenness", "", "evenness ms"),
    ("timekeeper loudness", "", "loudness"),
)
_MOST_FAILED = 10


def title(report: Report) -> str:
    """`12 takes on 5 days, 2026-11-03 to 2026-11-16`."""
    days = sorted(set(report.days))
    span = str(days[0]) if len(days) == 1 else f"{days[0]} to {days[-1]}"
    return f"{many(len(report.played), 'take')} on {many(len(days), 'day')}, {span}"


def dates_words(report: Report) -> str:
    """Where the dates come from."""
    counts = Counter(one.found.source for one in report.played)
    words = {
        "practice.toml": "{} from practice.toml",
        "name": "{} from names",
        "file date": "{} from the dates of the files, which copying may change",
    }
    return ", ".join(words[name].format(counts[name]) for name in words if counts[name])


def trend_words(report: Report) -> list[str]:
    """The sure changes, or why there are none."""
    sure = [
        course_words(one)
        for one in report.courses
        if not one.why_not and BY_KEY[one.key.measure].best
    ]
    if sure:
        return sure
    takes, days = len(report.played), len(set(report.days))
    if days < FEWEST_DAYS:
        few = takes < FEWEST_DAYS
        what = many(takes, "take") if few else f"takes of {many(days, 'day')}"
        verb = "is" if few and takes == 1 else "are"
        return [f"{what} {verb} too few for a trend: it takes {FEWEST_DAYS} days at one tempo"]
    return ["nothing has surely changed"]


def course_words(course: Course) -> str:
    """`spread of kick at 100-119 bpm: -3.1 ms in 30 days (9 takes on 7 days)`."""
    unit = BY_KEY[course.key.measure].unit
    return (
        f"{key_words(course.key)}: {course.per_month:+.2f} {unit} in {MONTH} days "
        f"({many(course.takes, 'take')} on {many(course.days, 'day')})"
    )


def key_words(key: CourseKey) -> str:
    """`spread of kick at 100-119 bpm`."""
    return f"{key.measure}{f' of {key.limb}' if key.limb else ''} at {key.group}"


def page(report: Report, written: list[str]) -> Page:
    """What is told on the terminal."""
    parts: list[Facts | Table] = [Facts("dates", [dates_words(report)])]
    work = [one.sentence for one in report.advice]
    parts.append(Facts("work on", work or ["there are too few hits to tell"]))
    parts.append(Facts("trends", trend_words(report)))
    parts.append(_tempi(report))
    if report.gathered.made:
        made = many(report.gathered.made, "file")
        parts.append(Facts("left out", [f"{made} that evenhand made from takes beside them"]))
    failed = [f"{name}: {reason}" for name, reason in report.failed]
    if len(failed) > _MOST_FAILED:
        failed = [*failed[:_MOST_FAILED], f"and {len(failed) - _MOST_FAILED} more"]
    parts += [Facts("failed", failed)] if failed else []
    parts.append(Facts("written", written))
    return Page(title(report), parts)


def _tempi(report: Report) -> Table:
    """One row per tempo group: the usual figure, and the personal best behind it."""
    courses = {one.key: one for one in report.courses}
    bests = {one.key: one for one in report.bests}
    groups = sorted({key.group for key in report.points}, key=by_tempo)
    rows = []
    for group in groups:
        takes = {
            point.take
            for key, points in report.points.items()
            if key.group == group
            for point in points
        }
        row = [str(group), str(len(takes))]
        for measure, limb, _ in _SHOWN:
            key = CourseKey(measure, limb, group)
            row.append(f"{courses[key].middle:.1f}" if key in courses else "-")
            row.append(f"{bests[key].point.value:.1f}" if key in bests else "-")
        rows.append(row)
    header = ["at", "takes", *(name for _, _, head in _SHOWN for name in (head, "best"))]
    return Table("tempi", header, rows, left=["at"])


def as_json(report: Report, written: list[str]) -> dict[str, Any]:
    """Everything as plain values: the tables row by row, null where there is no figure."""
    plain = {
        name.replace("-", "_"): [
            {column: _plain(value) for column, value in zip(COLUMNS[name], row, strict=True)}
            for row in rows
        ]
        for name, rows in rows_of(report).items()
    }
    return {
        "evenhand": __version__,
        **plain,
        "failed": [{"name": name, "reason": reason} for name, reason in report.failed],
        "left_out": report.gathered.made,
        "written": written,
    }


def _plain(value: object) -> object:
    if isinstance(value, float):
        return round(value, 3) if math.isfinite(value) else None
    if isinstance(value, TempoGroup | dt.date):
        return str(value)
    return None if value == "" else value
