"""The decisions of a pass in words: its spans, and what was kept of the feel."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from evenhand.paper.terminal import Facts, Table
from evenhand.paper.words import many

if TYPE_CHECKING:
    from evenhand.outcome import Kept, Pair
    from evenhand.tightener import Result

#: Spans shown in a summary, the widest first; the rest is counted (and all are in the JSON).
SHOWN_SPANS = 8


def list_spans(result: Result) -> list[dict[str, Any]]:
    """Each span: its number, first and last bar, strokes and ms."""
    plan, changes, strokes = result.plan, result.changes, result.strokes
    bar = result.before.meter.bars_at(plan.line).number
    rows = []
    for number in range(1, int(plan.span.max(initial=0)) + 1):
        mine = np.flatnonzero(plan.span == number)
        moved = changes.shift_ms[strokes.reference[mine]] + result.ground.latency
        rows.append(
            {
                "span": number,
                "first_bar": int(bar[mine[0]]),
                "last_bar": int(bar[mine[-1]]),
                "strokes": len(mine),
                "ms": round(float(np.median(moved)), 3),
            }
        )
    return rows


def spans_part(result: Result) -> list[Facts]:
    """The spans in words; nothing where none were looked for."""
    if not any(one.plan == "spans" for one in result.ground.recipes):
        return []
    rows = list_spans(result)
    lines = [
        f"{many(len(rows), 'span')} with {many(sum(row['strokes'] for row in rows), 'stroke')}"
    ]
    widest = sorted(rows, key=lambda row: (-row["strokes"], row["span"]))[:SHOWN_SPANS]
    for row in sorted(widest, key=lambda row: row["span"]):
        first, last = row["first_bar"], row["last_bar"]
        bars = f"bar {first}" if first == last else f"bars {first}-{last}"
        lines.append(f"{bars}: {many(row['strokes'], 'stroke')}, {row['ms']:+z.0f} ms")
    if len(rows) > len(widest):
        lines.append(f"and {len(rows) - len(widest)} smaller ones (all with --json)")
    return [Facts("spans", lines)]


def kept_part(result: Result) -> list[Facts | Table]:
    """The feel before and after, a row for each section, and what to say about it."""
    header = ["section", "lean ms", "after", "spread ms", "after", "swing", "after"]
    header += ["limbs moved ms", "in between"]
    parts: list[Facts | Table] = [
        Table("kept", header, [_row(one) for one in result.kept], left=["section"])
    ]
    if warnings := [one.warning for one in result.kept if one.warning]:
        parts.append(Facts("", warnings))
    return parts


def _row(one: Kept) -> list[str]:
    limbs = max((abs(pair.change) for pair in one.limbs.values()), default=math.nan)
    return [
        one.label,
        *_both(one.lean, "+.1f"),
        *_both(one.spread, ".1f"),
        *_both(one.swing, ".2f"),
        _number(limbs, ".1f"),
        _number(one.between, ".3f"),
    ]


def _both(pair: Pair, form: str) -> list[str]:
    return [_number(value, form) for value in (pair.before, pair.after)]


def _number(value: float, form: str) -> str:
    return "-" if math.isnan(value) else f"{value:{form}}"


def kept_json(result: Result) -> list[dict[str, Any]]:
    """The same as plain values."""
    return [{**asdict(one), "warning": one.warning} for one in result.kept]
