"""The assessment as plain values (for JSON), as CSV, and one row per take."""

import math
from dataclasses import asdict
from typing import Any

import numpy as np

from evenhand import __version__
from evenhand.assessor import Assessment, View
from evenhand.measure import Lean
from evenhand.paper.csv_table import csv_bytes
from evenhand.paper.grid_words import grid_name, layout_json
from evenhand.paper.part_words import together_json
from evenhand.paper.terminal import Facts, Page, Table
from evenhand.paper.words import meter_words, tempo_words

#: The columns of the CSV; one row per section and piece, `anchors` and each piece.
COLUMNS = (
    "take",
    "section",
    "first_bar",
    "last_bar",
    "grid",
    "piece",
    "hits",
    "lined",
    "lean_ms",
    "spread_ms",
    "robust_ms",
    "near_line_percent",
    "trend_ms_per_bar",
)


def assessment_json(found: Assessment) -> dict[str, Any]:
    """Everything that was found: ms, percent, bars; null where there is no figure."""
    ground = found.ground
    take, strokes, measured = ground.take, ground.strokes, found.measured
    outliers = []
    for one in found.outliers:
        reference = strokes.reference[one.first : one.last + 1]
        outliers.append(
            {
                "place": str(take.meter.position(float(measured.line[reference[0]]))),
                "last": str(take.meter.position(float(measured.line[reference[-1]]))),
                "hits": (reference + 1).tolist(),
                "pieces": sorted(set(ground.hits.piece[reference].tolist())),
                "from_lean_ms": one.off,
                "furthest_ms": one.furthest,
            }
        )
    plain: dict[str, Any] = _plain(
        {
            "evenhand": __version__,
            "input": take.name,
            "hits": len(ground.hits),
            "bars": found.whole.last_bar,
            "meter": meter_words(take.meter),
            "tempo_bpm": [round(float(bpm), 6) for bpm in take.tempo.bpm],
            "sections_from": ground.layout.sections.source,
            "grids": layout_json(ground.layout),
            "whole": _view(found.whole),
            "sections": [_view(view) for view in found.sections],
            "outliers": outliers,
            "latency": asdict(found.latency),
            "tempo_doubt": found.tempo_doubt,
            "together": together_json(found.together),
        }
    )
    return plain


def _view(view: View) -> dict[str, Any]:
    return {
        "label": view.label,
        "first_bar": view.first_bar,
        "last_bar": view.last_bar,
        "grid": grid_name(view.grid),
        "doubt": view.choice.doubt if view.choice else "",
        "anchors": asdict(view.anchors),
        "pieces": {name: asdict(lean) for name, lean in view.pieces.items()},
        "limbs": [asdict(limb) for limb in view.limbs],
        "swing": asdict(view.swing) if view.swing else None,
        "evenness": asdict(view.evenness) if view.evenness else None,
        "dynamics": asdict(view.dynamics),
        "advice": asdict(view.advice),
    }


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value


def assessment_csv(all_found: list[Assessment]) -> str:
    """One row for each section and piece of each take, under a header."""
    rows = []
    for found in all_found:
        for view in (found.whole, *found.sections):
            head = [
                found.ground.take.name,
                view.label,
                view.first_bar,
                view.last_bar,
                grid_name(view.grid),
            ]
            for piece, lean in {"anchors": view.anchors, **view.pieces}.items():
                rows.append([*head, piece, *_cells(lean)])
    return csv_bytes(COLUMNS, rows).decode()


def _cells(lean: Lean) -> list[str]:
    figures = [lean.lean, lean.spread, lean.robust, lean.near_line]
    slope = [f"{lean.trend.ms_per_bar:.4f}" if lean.trend else ""]
    shown = ["" if math.isnan(one) else f"{one:.3f}" for one in figures]
    return [str(lean.hits), str(lean.lined), *shown, *slope]


def many_page(all_found: list[Assessment]) -> Page:
    """One row per take."""
    header = [
        "take",
        "bars",
        "tempo",
        "grid",
        "sections",
        "lean ms",
        "spread",
        "near line",
        "doubt",
    ]
    rows = []
    for found in all_found:
        anchors = found.whole.anchors
        choice = found.whole.choice
        doubt = "tempo" if found.tempo_doubt else "grid" if choice and choice.doubt else ""
        known = not math.isnan(anchors.lean)
        rows.append(
            [
                found.ground.take.name,
                str(found.whole.last_bar),
                tempo_words(found.ground.take.tempo),
                grid_name(found.whole.grid),
                " ".join(found.ground.layout.sections.name),
                f"{anchors.lean:+.1f}" if known else "-",
                f"{anchors.spread:.1f}" if known else "-",
                f"{anchors.near_line:.0f} %" if known else "-",
                doubt,
            ]
        )
    parts: list[Facts | Table] = [
        Table("takes", header, rows, left=["take", "tempo", "grid", "sections", "doubt"])
    ]
    return Page(f"{len(all_found)} takes", parts)
