"""What was picked, as a page, as JSON, and hit by hit as CSV."""

import math
from typing import Any

from evenhand.jobs.pick.best_takes import Picked, Seam
from evenhand.jobs.pick.standing import FIGURES
from evenhand.paper import Facts, Page, Table, csv_bytes, many

#: The columns of the change log; docs/songs.md describes each.
COLUMNS = (
    *("hit", "take", "take_hit", "section", "bar", "beat", "tick", "ms"),
    *("ms_in_take", "note", "velocity", "piece"),
)


def picked_csv(picked: Picked) -> bytes:
    """The change log: which hit came from where, as CSV with a row for each hit in time order."""
    joined = picked.joined
    bar, beat = joined.take.meter.place(joined.tick)
    ms = joined.take.tempo.to_ms(joined.tick)
    section = _sections(picked)
    rows = []
    for row, (source, hit) in enumerate(zip(joined.source, joined.hit, strict=True)):
        hits = picked.laid[source].hits
        rows.append(
            [
                row + 1,
                picked.laid[source].take.name,
                int(hit) + 1,
                picked.divided.name[section[source][hit]],
                int(bar[row]),
                f"{beat[row]:.3f}",
                int(joined.tick[row]),
                f"{ms[row]:.3f}",
                f"{hits.ms[hit]:.3f}",
                int(hits.note[hit]),
                int(hits.velocity[hit]),
                str(hits.piece[hit]),
            ]
        )
    return csv_bytes(COLUMNS, rows)


def _sections(picked: Picked) -> list[list[int]]:
    """The section of each hit of each take."""
    sizes = [len(one.hits) for one in picked.laid]
    rows, begin = picked.divided.section.tolist(), 0
    found = []
    for size in sizes:
        found.append(rows[begin : begin + size])
        begin += size
    return found


def picked_json(picked: Picked, **more: Any) -> dict[str, Any]:
    """Everything that was found and chosen, as plain values."""
    standing, divided = picked.standing, picked.divided
    names = [one.take.name for one in picked.laid]
    sections = []
    for index, name in enumerate(divided.name):
        figures = [
            {
                "take": take,
                **{key: _plain(getattr(standing, key)[number, index]) for key in FIGURES},
                "cost_ms": _plain(picked.cost[number, index]),
            }
            for number, take in enumerate(names)
        ]
        choice = picked.choices[index]
        sections.append(
            {
                "section": name,
                "first_bar": int(divided.first[index]),
                "take": names[choice.take],
                "reason": choice.reason,
                "takes": figures,
            }
        )
    seams = [
        {
            "bar": one.bar,
            "before": names[one.before],
            "after": names[one.after],
            "velocity": _plain(one.velocity),
            "ms": _plain(one.ms),
        }
        for one in picked.seams
    ]
    return {
        "takes": names,
        "sections_from": picked.source,
        "hits": len(picked.joined.hit),
        "sections": sections,
        "seams": seams,
        **more,
    }


def picked_page(picked: Picked, written: list[str]) -> Page:
    """The table of choices with reasons, the figures, and the seams."""
    names = [one.take.name for one in picked.laid]
    divided, standing = picked.divided, picked.standing
    chosen = [
        [name, str(bar), names[one.take], one.reason]
        for name, bar, one in zip(divided.name, divided.first.tolist(), picked.choices, strict=True)
    ]
    figures = []
    for index, name in enumerate(divided.name):
        for number, take in enumerate(names):
            counts = [str(getattr(standing, key)[number, index]) for key in FIGURES[1:]]
            spread = float(standing.spread[number, index])
            row = ["-" if math.isnan(spread) else f"{spread:.1f}", *counts]
            mark = " *" if picked.choices[index].take == number else ""
            figures.append([name if number == 0 else "", take + mark, *row])
    parts: list[Facts | Table] = [
        Facts("sections", [picked.source]),
        *_moved_bars(picked),
        Table("chosen", ["section", "bar", "take", "why"], chosen, ["section", "take", "why"]),
        Table(
            "figures", ["section", "take", "spread ms", *FIGURES[1:]], figures, ["section", "take"]
        ),
    ]
    if picked.seams:
        rows = [_seam(one, names) for one in picked.seams]
        header = ["bar", "from", "to", "velocity", "ms"]
        parts.append(Table("seams", header, rows, ["from", "to"]))
    parts.append(Facts("written", written))
    many_takes = many(len(names), "take")
    return Page(f"{many(len(picked.joined.hit), 'hit')} picked from {many_takes}", parts)


def _moved_bars(picked: Picked) -> list[Facts | Table]:
    """Takes whose bars were moved to match those of the first."""
    moved = [one for one in picked.laid if one.shift]
    if not moved:
        return []
    meter = picked.laid[0].take.meter
    bar = float(meter.beats[0] * 4 / meter.unit[0])
    lines = [
        f"{one.take.name} is counted {many(abs(round(one.shift / bar)), 'bar')} "
        f"{'later' if one.shift > 0 else 'earlier'}: its count-in differs"
        for one in moved
    ]
    return [Facts("bars", lines)]


def _seam(seam: Seam, names: list[str]) -> list[str]:
    figures = ["-" if math.isnan(one) else f"{one:+z.0f}" for one in (seam.velocity, seam.ms)]
    return [str(seam.bar), names[seam.before], names[seam.after], *figures]


def _plain(value: float) -> float | int | None:
    number = round(float(value), 3)
    if math.isnan(number) or math.isinf(number):
        return None
    return int(number) if number.is_integer() else number
