"""The assessment as a page: what was found, where, and what to do about it."""

import math

import numpy as np

from evenhand.assessor import Assessment, Latency, View
from evenhand.measure import Lean, Trend
from evenhand.paper.grid_words import grid_doubts, grid_name
from evenhand.paper.part_words import together_parts
from evenhand.paper.terminal import Facts, Page, Table
from evenhand.paper.words import counted, many, meter_words, tempo_words

#: Outliers shown on the page; all are in the JSON.
SHOWN_OUTLIERS = 10

_HEADER = ["hits", "on grid", "lean ms", "", "spread ms", "robust", "near line", "over time"]
_OUTLIERS = ["place", "pieces", "ms from the lean"]
_LEFT = ["section", "piece", "", "over time", "place", "pieces"]


def side(ms: float) -> str:
    """`ahead` or `behind`."""
    if math.isnan(ms) or abs(ms) < 0.05:
        return ""
    return "ahead" if ms < 0 else "behind"


def trend_words(trend: Trend | None) -> str:
    """`11 ms ahead at bar 5, easing to 3 ms by bar 12`."""
    if trend is None:
        return "steady"
    first, last = trend.first_ms, trend.last_ms
    begin = f"{abs(first):.0f} ms {side(first)}".strip() + f" at bar {trend.first_bar}"
    end = f"{abs(last):.0f} ms"
    if round(first) * round(last) < 0:
        return f"{begin}, turning to {end} {side(last)} by bar {trend.last_bar}"
    if abs(last) < abs(first):
        return f"{begin}, easing to {end} by bar {trend.last_bar}"
    return f"{begin}, growing to {end} {side(last)} by bar {trend.last_bar}"


def assessment_page(found: Assessment, written: list[str] | None = None) -> Page:
    """Put an assessment into words and tables.

    Parameters
    ----------
    found : Assessment
    written : list of str, optional
        Names of files that were written.
    """
    ground = found.ground
    take = ground.take
    views = found.sections or (found.whole,)
    parts: list[Facts | Table] = [
        Facts(
            "found",
            [
                f"{many(len(ground.hits), 'hit')} in {many(found.whole.last_bar, 'bar')}, "
                f"{meter_words(take.meter)}, {tempo_words(take.tempo)}",
                f"sections: {ground.layout.sections.source}",
                f"ghosts: snare below velocity {ground.ghosts.velocity} ({ground.ghosts.why})",
            ],
        ),
        *([Facts("tempo", [found.tempo_doubt])] if found.tempo_doubt else []),
        *_grids(found, views),
        _sections(found),
        _pieces(found.whole),
        *_limbs(found.whole),
        *together_parts(found.together),
        *_outliers(found),
        _feel(views),
        _latency(found.latency),
        _advice(views),
    ]
    if written:
        parts.append(Facts("written", written))
    return Page(take.name, parts)


def _grids(found: Assessment, views: tuple[View, ...]) -> list[Facts | Table]:
    layout = found.ground.layout
    if not layout.choices:
        return [Facts("grid", [f"{grid_name(layout.grids[0])}, as given"])]
    names = list(layout.whole.explained) if layout.whole else []
    rows = [
        [
            view.label,
            grid_name(view.grid),
            *(
                f"{view.choice.explained[name]:.0f} %"
                if view.choice and name in view.choice.explained
                else "-"
                for name in names
            ),
        ]
        for view in views
    ]
    parts: list[Facts | Table] = [
        Table("grid", ["section", "grid", *names], rows, left=["section", "grid"]),
        Facts("", ["(share of strokes and timekeepers that each grid explains beyond chance)"]),
    ]
    doubts = list(grid_doubts(layout))
    return [*parts, Facts("doubt", doubts)] if doubts else parts


def _lean_cells(lean: Lean) -> list[str]:
    if not lean.lined:
        return [str(lean.hits), "0", "", "", "", "", "", ""]
    return [
        str(lean.hits),
        f"{100 * lean.lined / lean.hits:.0f} %",
        f"{abs(lean.lean):.1f}",
        side(lean.lean),
        f"{lean.spread:.1f}",
        f"{lean.robust:.1f}",
        f"{lean.near_line:.0f} %",
        trend_words(lean.trend),
    ]


def _sections(found: Assessment) -> Table:
    rows = [["all", f"1-{found.whole.last_bar}", *_lean_cells(found.whole.anchors)]]
    rows += [
        [view.label, f"{view.first_bar}-{view.last_bar}", *_lean_cells(view.anchors)]
        for view in found.sections
    ]
    return Table("anchors", ["section", "bars", *_HEADER], rows, left=_LEFT)


def _pieces(view: View) -> Table:
    rows = [[name, *_lean_cells(lean)] for name, lean in view.pieces.items()]
    return Table("pieces", ["piece", *_HEADER], rows, left=_LEFT)


def _limbs(view: View) -> list[Facts]:
    lines = []
    for limb in view.limbs:
        order = "before" if limb.lean < 0 else "after"
        lines.append(
            f"{limb.one} {abs(limb.lean):.1f} ms {order} the {limb.other} "
            f"(spread {limb.spread:.1f} ms, {limb.pairs} struck together)"
        )
    return [Facts("limbs", lines)] if lines else []


def _outliers(found: Assessment) -> list[Facts | Table]:
    if not found.outliers:
        return [Facts("outliers", ["none: every stroke is inside the window around its lean"])]
    rows = []
    strokes, measured = found.ground.strokes, found.measured
    meter, hits = found.ground.take.meter, found.ground.hits
    for one in found.outliers[:SHOWN_OUTLIERS]:
        reference = strokes.reference[one.first : one.last + 1]
        place = meter.position(float(measured.line[reference[0]]))
        names, counts = np.unique(hits.piece[reference], return_counts=True)
        if one.strokes == 1:
            text = f"{one.off:+.1f}"
        else:
            last = meter.position(float(measured.line[reference[-1]]))
            text = f"{one.off:+.1f} ({one.strokes} strokes up to {last})"
        pieces = names[0] if one.strokes == 1 else counted(dict(zip(names, counts, strict=True)))
        rows.append([str(place), str(pieces), text])
    parts: list[Facts | Table] = [Table("outliers", _OUTLIERS, rows, left=_OUTLIERS)]
    rest = len(found.outliers) - len(rows)
    if rest:
        parts.append(Facts("", [f"and {rest} more (all with --json)"]))
    return parts


def _feel(views: tuple[View, ...]) -> Table:
    rows = []
    for view in views:
        swing, even, dynamics = view.swing, view.evenness, view.dynamics
        rows.append(
            [
                view.label,
                f"{swing.ratio:.2f}:1 ({swing.percent:.0f} ± {swing.spread:.0f} %, 1/{swing.unit})"
                if swing
                else "-",
                f"{even.piece} ± {even.spread:.1f} ms" if even else "-",
                f"{dynamics.backbeat_velocity:.0f} ± {dynamics.backbeat_spread:.0f}"
                if dynamics.backbeats
                else "-",
                f"{dynamics.ghost_velocity:.0f} ± {dynamics.ghost_spread:.0f}"
                if dynamics.ghosts
                else "-",
            ]
        )
    header = ["section", "swing", "intervals", "backbeats vel.", "ghosts vel."]
    return Table("feel", header, rows, left=header)


def _latency(latency: Latency) -> Facts:
    if abs(latency.ms) < 1:
        return Facts("latency", ["none to be seen: the hits lie on their lines in the middle"])
    kind = "late" if latency.ms > 0 else "early"
    lines = [
        f"the middle hit is {abs(latency.ms):.1f} ms {kind}, "
        f"pieces differ by {latency.apart:.0f} ms"
    ]
    if latency.ms < 0:
        lines.append(
            "a recording chain writes no hit early: more likely feel, or the click's own delay"
        )
    elif latency.apart > latency.ms:
        lines.append("a recording chain delays all pieces alike: more likely feel")
    else:
        lines.append("it can be the recording chain, and it can as well be feel")
    lines.append("nothing is taken out unasked; --latency auto takes out the middle")
    return Facts("latency", lines)


def _advice(views: tuple[View, ...]) -> Table:
    rows = [
        [
            view.label,
            view.advice.grid,
            f"{view.advice.swing:g} %",
            f"{view.advice.window:g} ms",
            f"{view.advice.strength:g} %",
        ]
        for view in views
    ]
    return Table(
        "try", ["section", "grid", "swing", "window", "strength"], rows, left=["section", "grid"]
    )
