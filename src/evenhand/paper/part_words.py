"""How a take sits with another player, as tables and as plain values."""

import math
from dataclasses import asdict
from typing import Any

from evenhand.paper.terminal import Facts, Table
from evenhand.part import HEARD_MS, Sitting, Together

#: Places that are shown; all are in the JSON.
SHOWN_PLACES = 12


def together_parts(together: Together | None) -> list[Facts | Table]:
    """Who leads, by how much and how surely: by piece, by place, by section, over the song."""
    if together is None:
        return []
    whole = together.whole
    if not whole.pairs:
        return [Facts("together", [f"no stroke shares a line with {together.name}"])]
    pieces = [_row([name], one) for name, one in {**together.pieces, "all": whole}.items()]
    places = sorted(together.places.items(), key=lambda item: -item[1].pairs)[:SHOWN_PLACES]
    header = ["pairs", "ms", "give or take", "spread ms", "leads"]
    parts: list[Facts | Table] = [
        Facts("together", [f"with {together.name}: {together.onsets} onsets on lines of the take"]),
        Table("", ["piece", *header], pieces, ["piece", "leads"]),
        Table(
            "",
            ["piece", "beat", *header],
            [_row([name, f"{beat:g}"], one) for (name, beat), one in sorted(places)],
            ["piece", "leads"],
        ),
    ]
    if len(together.sections) > 1:
        rows = [_row([name], one) for name, one in together.sections.items()]
        parts.append(Table("", ["section", *header], rows, ["section", "leads"]))
    parts.append(Facts("", [_heard(together), _trend(together)]))
    return parts


def _row(names: list[str], one: Sitting) -> list[str]:
    doubt = f"{one.doubt:.1f}" if math.isfinite(one.doubt) else "-"
    return [*names, str(one.pairs), f"{one.ms:+.1f}", doubt, f"{one.spread:.1f}", one.leader]


def _heard(together: Together) -> str:
    return (
        f"{together.heard:.0f} % of the pairs are {HEARD_MS:g} ms or more apart, where one "
        "instrument is plainly heard beside the others"
    )


def _trend(together: Together) -> str:
    trend = together.trend
    if trend is None:
        return "over the song: steady"
    return (
        f"over the song: {trend.first_ms:+z.0f} ms at bar {trend.first_bar}, "
        f"{trend.last_ms:+z.0f} ms by bar {trend.last_bar}"
    )


def together_json(together: Together | None) -> dict[str, Any] | None:
    """The same as plain values; None without another player."""
    if together is None:
        return None
    return {
        "part": together.name,
        "onsets": together.onsets,
        "whole": _plain(together.whole),
        "pieces": {name: _plain(one) for name, one in together.pieces.items()},
        "places": [
            {"piece": name, "beat": beat, **_plain(one)}
            for (name, beat), one in together.places.items()
        ],
        "sections": {name: _plain(one) for name, one in together.sections.items()},
        "heard_percent": together.heard,
        "trend": asdict(together.trend) if together.trend else None,
    }


def _plain(one: Sitting) -> dict[str, Any]:
    return {**asdict(one), "leads": one.leader}
