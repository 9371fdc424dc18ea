"""Sections and their grids in words and as plain values."""

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from evenhand.grid import STRAIGHT, Choice, Grid, Layout


def grid_name(grid: Grid | None) -> str:
    """`1/16`, `1/8 swing 64 %`, or `none`."""
    if grid is None:
        return "none"
    if grid.swing == STRAIGHT or not grid.paired:
        return grid.name
    return f"{grid.name} swing {grid.swing:g} %"


def layout_words(layout: Layout) -> str:
    """One grid by its name; several with the sections that have them."""
    names = [grid_name(grid) for grid in layout.grids]
    found = " (found)" if layout.choices else ""
    if len(set(names)) == 1:
        return names[0] + found
    parts = []
    for name in dict.fromkeys(names):
        where = [
            label for label, one in zip(layout.sections.labels, names, strict=True) if one == name
        ]
        parts.append(f"{name} in {', '.join(where)}")
    return "; ".join(parts) + found


def grid_doubts(layout: Layout) -> Iterator[str]:
    """A line for each doubt about a grid that was found, the same doubt told once."""
    told: dict[str, list[str]] = {}
    for label, choice in zip(layout.sections.labels, layout.choices, strict=False):
        if not choice.doubt:
            continue
        if choice.grid:
            text = f"grid {choice.words} was found, but {choice.doubt}."
        else:
            text = f"no grid explains the hits ({choice.doubt}): nothing moves there."
        told.setdefault(text, []).append(label)
    for text, labels in told.items():
        whole = len(layout.sections) == 1
        yield text[0].upper() + text[1:] if whole else f"{', '.join(labels)}: {text}"


def evidence(choice: Choice) -> str:
    """The share explained under each candidate: `1/8 54 %, 1/16 97 %`."""
    return ", ".join(f"{name} {share:.0f} %" for name, share in choice.explained.items())


def layout_json(layout: Layout) -> list[dict[str, Any]]:
    """Each section as plain values, with its grid and the evidence for it."""
    sections = layout.sections
    rows = []
    for index, label in enumerate(sections.labels):
        choice = layout.choices[index] if layout.choices else None
        rows.append(
            {
                "name": sections.name[index],
                "label": label,
                "bar": int(sections.bar[index]),
                "grid": grid_name(layout.grids[index]),
                "found": asdict(choice) if choice else None,
            }
        )
    return rows
