"""The summary of a pass, for people and (as one JSON object) for machines."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from evenhand import __version__
from evenhand.ground import Whole, told_of_whole
from evenhand.paper.grid_words import grid_doubts, layout_json, layout_words
from evenhand.paper.judgement import kept_json, kept_part, list_spans, spans_part
from evenhand.paper.playing import fills_json, fills_part, uses_json, uses_part
from evenhand.paper.song_words import song_json
from evenhand.paper.terminal import Facts, Page, Table
from evenhand.paper.words import counted, many, meter_words, tempo_words

if TYPE_CHECKING:
    from evenhand.outcome import Figures, Flag, Tightness
    from evenhand.tightener import Result

#: Flags shown in a summary; the rest is counted (and all are in the JSON).
SHOWN_FLAGS = 12

#: Share of strokes off the grid, percent, above which the grid itself is in doubt.
DOUBTFUL_GRID = 25.0


def summary(result: Result, written: list[str]) -> Page:
    """Put the figures of a pass into words.

    Parameters
    ----------
    result : Result
    written : list of str
        What was written, for the last lines.
    """
    parts: list[Facts | Table] = [
        Facts("found", _found(result)),
        *uses_part(result.ground),
        *whole_part(result.ground.whole),
        Facts("done", _done(result)),
        *spans_part(result),
        *fills_part(result),
        _tightness(result.figures),
        *kept_part(result),
        *_doubts(result),
        *_listening_list(result.noted),
        Facts("written", written),
    ]
    return Page(result.before.name, parts)


def whole_part(whole: Whole) -> list[Facts]:
    """What holds for the take as a whole, in a line each; nothing if there is nothing to tell."""
    lines = [text for _, text, _ in told_of_whole(whole)]
    return [Facts("whole", lines)] if lines else []


def _found(result: Result) -> list[str]:
    figures, take = result.figures, result.before
    last_bar = result.plan.measured.last_bar
    return [
        f"{many(figures.hits, 'hit')} in {many(last_bar, 'bar')}, "
        f"{meter_words(take.meter)}, {tempo_words(take.tempo)}",
        f"pieces: {counted(figures.pieces)}",
        f"roles: {counted(figures.roles)}",
        f"ghosts: snare below velocity {result.ghosts.velocity} ({result.ghosts.why})",
        f"strokes: {many(sum(figures.strokes.values()), 'stroke')} ({counted(figures.strokes)})",
    ]


def _done(result: Result) -> list[str]:
    figures, recipe = result.figures, result.recipe
    latency = result.ground.latency
    if math.isnan(figures.window_least):
        width = "none needed"
    elif figures.window_most - figures.window_least < 0.05:
        width = f"{figures.window_least:.1f} ms"
    else:
        width = f"{figures.window_least:.1f} to {figures.window_most:.1f} ms"
    dials = f"lean {recipe.lean:g} %, fills {recipe.fills}, ornaments {recipe.ornaments}"
    return [
        counted(figures.actions),
        f"largest move {figures.largest_move:.1f} ms, median {figures.median_move:.1f} ms",
        f"grid {layout_words(result.ground.layout)}, window {width}, "
        f"strength {recipe.strength:g} %, "
        f"reach {_percent(recipe.reach)}"
        + (f", latency {latency:g} ms taken out" if latency else ""),
        f"{dials}, plan {recipe.plan}"
        + (f", {many(len(recipe.section), 'section')} with settings" if recipe.section else "")
        + (f", {many(len(recipe.nudge), 'nudge')}" if recipe.nudge else ""),
    ]


def _percent(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g} %"


def _tightness(figures: Figures) -> Facts | Table:
    if not figures.tightness["all"].hits:
        return Facts("tightness", ["no anchor belongs to a line of this grid"])

    def row(name: str, one: Tightness) -> list[str]:
        return [
            name,
            str(one.hits),
            *(f"{value:+.1f}" for value in (one.mean_before, one.mean_after)),
            *(f"{value:.1f}" for value in (one.spread_before, one.spread_after)),
            *(f"{value:.0f} %" for value in (one.inside_before, one.inside_after)),
        ]

    header = ["anchors", "hits", "mean ms", "after", "spread ms", "after", "in window", "after"]
    rows = [row(name, one) for name, one in figures.tightness.items()]
    return Table("tightness", header, rows, left=["anchors"])


def _doubts(result: Result) -> list[Facts]:
    figures, recipe = result.figures, result.recipe
    layout = result.ground.layout
    lines = [f"{result.misfit.text[:1].upper()}{result.misfit.text[1:]}."] if result.misfit else []
    lines += grid_doubts(layout)
    if figures.off_grid_share > DOUBTFUL_GRID:
        others = sorted(figures.grids.items(), key=lambda item: -item[1])
        lines += [
            f"{figures.off_grid_share:.0f} % of the strokes are off the grid "
            f"{layout_words(layout)}: "
            "it may be the wrong one.",
            "Strokes that belong to a line under each grid: "
            + ", ".join(f"{name} {share:.0f} %" for name, share in others),
            f"(hits strewn at random would give {min(100.0, 2 * recipe.reach_percent):.0f} %; "
            "see --grid and --swing)",
        ]
    if recipe.lines and not recipe.lines.paired and recipe.swing != 50:
        lines.append(f"The grid {recipe.lines.name} has no pairs to swing: --swing did nothing.")
    return [Facts("doubt", lines)] if lines else []


def _listening_list(noted: tuple[Flag, ...]) -> list[Facts | Table]:
    if not noted:
        return [Facts("listen to", ["no flags"])]
    listed = [flag for flag in noted if flag.listed]
    shown = listed[:SHOWN_FLAGS]
    rows = [[str(flag.place), flag.kind, flag.text] for flag in shown]
    parts: list[Facts | Table] = [
        Table("listen to", ["place", "flag", "what"], rows, left=["place", "flag", "what"])
    ]
    rest: dict[str, int] = {}
    for flag in (*listed[SHOWN_FLAGS:], *(flag for flag in noted if not flag.listed)):
        rest[flag.kind] = rest.get(flag.kind, 0) + 1
    if rest:
        parts.append(
            Facts("", [f"and {sum(rest.values())} more: {counted(rest)} (all with --json)"])
        )
    return parts


def as_json(result: Result, **files: str | int | list[str] | None) -> dict[str, Any]:
    """The same as plain values: numbers in ms, percent and ticks; null where there is none.

    Parameters
    ----------
    result : Result
    **files : str, int, list of str or None
        Names of the files involved, such as `output`, and the number of the pass.
    """
    tightness = {name: vars(one) for name, one in result.figures.tightness.items()}
    figures = {**vars(result.figures), "tightness": tightness}
    return {
        name: _without_nan(value)
        for name, value in {
            "evenhand": __version__,
            "input": result.before.name,
            **files,
            "recipe": result.recipe.settings(),
            "division": result.before.division,
            "bars": result.plan.measured.last_bar,
            "meter": meter_words(result.before.meter),
            "tempo_bpm": [round(float(bpm), 6) for bpm in result.before.tempo.bpm],
            "ghost_limit": asdict(result.ghosts),
            "latency": result.ground.latency,
            "offset_ms": result.ground.offset,
            "tempo_of_hits": _tempo_json(result.ground.whole),
            **song_json(result.recipe, result.misfit),
            "sections": layout_json(result.ground.layout),
            "figures": figures,
            "taken_for": uses_json(result.ground),
            "spans": list_spans(result),
            "fills": fills_json(result),
            "kept": kept_json(result),
            "flags": [
                {**vars(flag), "place": str(flag.place), "hits": list(flag.hits)}
                for flag in result.noted
            ],
        }.items()
    }


def _tempo_json(whole: Whole) -> dict[str, Any] | None:
    """The tempo of the hits, where it is another than that of the file."""
    return asdict(whole.other) if whole.other else None


def _without_nan(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_nan(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_without_nan(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
