"""Habits as tables, as a picture in letters, and as plain values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from evenhand.paper.terminal import Facts, Page, Table
from evenhand.paper.words import many

if TYPE_CHECKING:
    from evenhand.profile import Compared, Profile

# The picture: so many ms to a letter, and so many letters to each side.
_MS_PER_LETTER, _SIDE = 2.0, 15


def habit_page(profile: Profile, written: str | None) -> Page:
    """A habit, a row for each piece and place."""
    rows = [
        [
            str(profile.piece[index]),
            f"{profile.beat[index]:.3g}",
            str(int(profile.count[index])),
            f"{profile.ms[index]:+.1f}",
            f"{profile.spread[index]:.1f}",
            _bar((float(profile.ms[index]), "o")),
        ]
        for index in range(len(profile))
    ]
    low, high = (f"{one:.4g}" for one in profile.bpm)
    tempo = low if low == high else f"{low} to {high}"
    parts: list[Facts | Table] = [
        Facts(
            "found",
            [
                f"{many(int(profile.count.sum()), 'hit')} on {many(len(profile), 'place')}, "
                f"{profile.meter}, {tempo} bpm, swing {profile.swing:.3g} %",
                f"all together {profile.whole:+.1f} ms",
            ],
        ),
        Table(
            "habit",
            ["piece", "beat", "hits", "ms", "spread ms", _scale()],
            rows,
            ["piece", _scale()],
        ),
    ]
    if written:
        parts.append(Facts("written", [written]))
    return Page(", ".join(profile.takes), parts)


def compared_page(found: Compared) -> Page:
    """Two habits: what both have, side by side and as a picture (`a`, `b`, `*` for both)."""
    rows = []
    for index, (piece, beat) in enumerate(zip(found.piece, found.beat, strict=True)):
        one, other = float(found.ms[0][index]), float(found.ms[1][index])
        rows.append(
            [
                str(piece),
                f"{beat:.3g}",
                f"{one:+.1f}",
                f"{other:+.1f}",
                f"{other - one:+.1f}",
                f"{found.spread[0][index]:.1f}",
                f"{found.spread[1][index]:.1f}",
                _bar((one, "a"), (other, "b")),
            ]
        )
    alike = "can't be told" if math.isnan(found.alike) else f"{found.alike:.2f}"
    header = ["piece", "beat", "a ms", "b ms", "b - a", "a spread", "b spread", _scale()]
    return Page(
        f"a: {found.names[0]}, b: {found.names[1]}",
        [
            Facts("alike", [f"correlation of {many(len(rows), 'place')}: {alike}"]),
            Table("habits", header, rows, ["piece", _scale()]),
        ],
    )


def _scale() -> str:
    most = f"{_MS_PER_LETTER * _SIDE:.0f}"
    side = _SIDE - len(most) - 1
    return f"-{most}{' ' * side}0{' ' * side}+{most}"


def _bar(*marks: tuple[float, str]) -> str:
    """A line with its middle at 0 ms and a letter where each mark lies."""
    letters = ["."] * (2 * _SIDE + 1)
    letters[_SIDE] = "|"
    for ms, letter in marks:
        at = _SIDE + max(-_SIDE, min(_SIDE, round(ms / _MS_PER_LETTER)))
        letters[at] = letter if letters[at] in ".|" else "*"
    return "".join(letters)


def habit_json(profile: Profile) -> dict[str, Any]:
    """The same as plain values."""
    return {
        "takes": list(profile.takes),
        "meter": profile.meter,
        "bpm": list(profile.bpm),
        "swing": profile.swing,
        "ms": profile.whole,
        "places": [
            {
                "piece": str(profile.piece[index]),
                "beat": float(profile.beat[index]),
                "count": int(profile.count[index]),
                "ms": float(profile.ms[index]),
                "spread": float(profile.spread[index]),
            }
            for index in range(len(profile))
        ],
    }


def compared_json(found: Compared) -> dict[str, Any]:
    """The same as plain values."""
    return {
        "a": found.names[0],
        "b": found.names[1],
        "alike": None if math.isnan(found.alike) else found.alike,
        "places": [
            {
                "piece": str(found.piece[index]),
                "beat": float(found.beat[index]),
                "a_ms": float(found.ms[0][index]),
                "b_ms": float(found.ms[1][index]),
                "a_spread": float(found.spread[0][index]),
                "b_spread": float(found.spread[1][index]),
            }
            for index in range(len(found.piece))
        ],
    }
