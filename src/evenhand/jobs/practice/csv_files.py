"""The report as CSV: UTF-8, a header, `.` decimals; empty where there is no figure."""

import math
from collections.abc import Iterable, Sequence

from evenhand.jobs.practice.measures import BY_KEY, ghosts_below
from evenhand.jobs.practice.measuring import Played
from evenhand.jobs.practice.over_time import CourseKey
from evenhand.jobs.practice.report import Report
from evenhand.jobs.practice.take_figures import TakeFigures
from evenhand.paper import csv_bytes

_WHICH = ("measure", "unit", "limb", "tempo")

#: The columns of each table; the tables are named by the ends of their file names.
COLUMNS: dict[str, tuple[str, ...]] = {
    "takes": (
        *("take", "date", "date_from", "bpm", "tempo", "click", "grid"),
        *("hits", "bars", "minutes", "noticed_ms", "lean_ms", "spread_ms"),
        *("drift_ms", "tempo_drift_percent", "pulse_beats", "stray_ms"),
        *("wander", "wander_off_click"),
        *("keeper", "evenness_ms", "keeper_velocity", "loudness_spread"),
        *("backbeats", "backbeat_velocity", "backbeat_spread"),
        *("ghosts", "ghost_velocity", "ghost_spread", "ghosts_below"),
        *("kick_pairs", "kick_first_ms", "kick_apart_ms"),
        *("snare_pairs", "snare_first_ms", "snare_apart_ms"),
        "note",
    ),
    "limbs": (
        *("take", "date", "tempo", "limb", "hits", "lined", "bpm"),
        *("lean_ms", "spread_ms", "noticed_ms"),
    ),
    "trends": (*_WHICH, "takes", "days", "first", "last", "middle", "per_30_days", "why_not"),
    "bests": (*_WHICH, "takes", "best", "take", "date", "latest"),
    "work-on": (*_WHICH, "value", "noticed", "takes", "most", "take", "sentence"),
}


def rows_of(report: Report) -> dict[str, list[Sequence[object]]]:
    """The rows of each table; NaN or empty where there is no figure."""
    return {
        "takes": [_take(one) for one in report.played],
        "limbs": list(_limbs(report)),
        "trends": list(_trends(report)),
        "bests": list(_bests(report)),
        "work-on": list(_advice(report)),
    }


def as_csv(name: str, rows: Sequence[Sequence[object]]) -> bytes:
    """A table as the bytes of a file."""
    return csv_bytes(COLUMNS[name], ([_cell(value) for value in row] for row in rows))


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{round(value, 3) + 0.0:.3f}" if math.isfinite(value) else ""
    return str(value)


def _take(one: Played) -> list[object]:
    """The figures of a take, in the order of the columns."""
    head: list[object] = [one.found.name, one.found.when.isoformat(" "), one.found.source]
    if not one.figures:
        return [*head, *[""] * (len(COLUMNS["takes"]) - len(head) - 1), one.reason]
    return [*head, *_figures(one.figures)]


def _figures(figures: TakeFigures) -> list[object]:
    held, dynamics, loud = figures.steadiness, figures.dynamics, figures.loudness
    cells: list[object] = [
        *(figures.bpm, figures.group or "several", figures.click, figures.grid),
        *(figures.hits, figures.bars, figures.minutes, figures.noticed_ms),
        *(figures.anchors.lean_ms, figures.anchors.spread_ms),
        *(held.drift_ms, held.drift_percent, held.beats, held.stray_ms),
        *(held.wander, held.wander_off),
        *(figures.keeper, figures.keeper_ms, loud.velocity, loud.spread),
        *(dynamics.backbeats, dynamics.backbeat_velocity, dynamics.backbeat_spread),
        *(dynamics.ghosts, dynamics.ghost_velocity, dynamics.ghost_spread),
        ghosts_below(figures),
    ]
    for limb in ("kick", "snare"):
        pair = figures.pair(limb)
        cells += [pair.pairs, pair.lean, pair.spread] if pair else [0, "", ""]
    return [*cells, figures.note]


def _limbs(report: Report) -> Iterable[Sequence[object]]:
    for one in report.played:
        for row in one.figures.limbs if one.figures else ():
            head = (one.found.name, one.found.when.isoformat(" "), row.group, row.limb)
            yield (
                *head,
                *(row.hits, row.lined, row.bpm, row.lean_ms, row.spread_ms, row.noticed_ms),
            )


def _which(key: CourseKey) -> tuple[object, ...]:
    return key.measure, BY_KEY[key.measure].unit, key.limb, key.group


def _trends(report: Report) -> Iterable[Sequence[object]]:
    for one in report.courses:
        head = (*_which(one.key), one.takes, one.days, one.first, one.last)
        yield *head, one.middle, one.per_month, one.why_not


def _bests(report: Report) -> Iterable[Sequence[object]]:
    for one in report.bests:
        found = report.played[one.point.take].found
        head = (*_which(one.key), one.takes, one.point.value)
        yield *head, found.name, found.when.isoformat(" "), one.latest.value


def _advice(report: Report) -> Iterable[Sequence[object]]:
    for one in report.advice:
        worst = report.played[one.worst.take].found.name
        head = (*_which(one.key), one.value, one.noticed, one.takes, one.worst.value)
        yield *head, worst, one.sentence
