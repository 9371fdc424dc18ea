"""The page's data: plain values; names from files are written as text by the page's scripts."""

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any

from evenhand import __version__
from evenhand.jobs.practice.measures import MEASURES, Point
from evenhand.jobs.practice.measuring import Played
from evenhand.jobs.practice.over_time import Best, Course, CourseKey
from evenhand.jobs.practice.report import Report
from evenhand.jobs.practice.take_figures import ANCHORS, LIMBS
from evenhand.jobs.practice.tempi import by_tempo
from evenhand.jobs.practice.wording import dates_words, title, trend_words
from evenhand.paper import many

_EPOCH = dt.datetime(1970, 1, 1)


def practice_data(report: Report, pages: Mapping[int, str]) -> dict[str, Any]:
    """Collect the data of the page.

    Parameters
    ----------
    report : Report
    pages : mapping of int to str
        The listening page of a take, by its place.
    """
    groups = list(dict.fromkeys(sorted((key.group for key in report.points), key=by_tempo)))
    place = {group: index for index, group in enumerate(groups)}
    points = [point for mine in report.points.values() for point in mine]
    measures = [measure.key for measure in MEASURES]
    limbs = [ANCHORS, *LIMBS]

    def which(key: CourseKey | Point) -> dict[str, Any]:
        return {
            "measure": measures.index(key.measure),
            "limb": limbs.index(key.limb) if key.limb else -1,
            "group": place[key.group],
        }

    return {
        "evenhand": __version__,
        "title": title(report),
        "dates": dates_words(report),
        "left_out": _left_out(report.gathered.made),
        "work": [one.sentence for one in report.advice],
        "trends": trend_words(report),
        "measures": [
            {"key": one.key, "words": one.words, "unit": one.unit, "best": one.best}
            for one in MEASURES
        ],
        "limbs": limbs,
        "groups": [str(group) for group in groups],
        "takes": [
            {**_take(one), "listen": pages.get(index, "")}
            for index, one in enumerate(report.played)
        ],
        "points": [
            {
                "take": one.take,
                **which(one),
                "bpm": round(one.bpm, 3),
                "value": round(one.value, 3),
            }
            for one in points
        ],
        "courses": [{**which(one.key), **_course(one)} for one in report.courses],
        "bests": [{**which(one.key), **_best(one)} for one in report.bests],
        "failed": [[name, reason] for name, reason in report.failed],
    }


def _left_out(made: int) -> str:
    return (
        f"{many(made, 'file')} that evenhand made from takes beside them left out" if made else ""
    )


def _seconds(when: dt.datetime | dt.date) -> int:
    at = when if isinstance(when, dt.datetime) else dt.datetime(when.year, when.month, when.day)
    return int((at - _EPOCH).total_seconds())


def _take(one: Played) -> dict[str, Any]:
    figures = one.figures
    return {
        "name": one.found.name,
        "at": _seconds(one.found.when),
        "from": one.found.source,
        "bpm": round(figures.bpm, 2) if figures else None,
        "click": bool(figures and figures.click),
        "minutes": round(figures.minutes, 2) if figures else None,
        "grid": figures.grid if figures else "",
        "spread": _short(figures.anchors.spread_ms) if figures else None,
        "note": figures.note if figures else one.reason,
    }


def _course(one: Course) -> dict[str, Any]:
    change = one.change
    return {
        "takes": one.takes,
        "days": one.days,
        "middle": round(one.middle, 3),
        "per_month": _short(one.per_month),
        "why_not": one.why_not,
        "line": [
            [_seconds(one.first), round(change.first, 3)],
            [_seconds(one.last), round(change.last, 3)],
        ]
        if change
        else None,
    }


def _best(one: Best) -> dict[str, Any]:
    return {
        "takes": one.takes,
        "value": round(one.point.value, 3),
        "take": one.point.take,
        "latest": round(one.latest.value, 3),
    }


def _short(value: float) -> float | None:
    return round(value, 3) if math.isfinite(value) else None
