"""The row of a take in the tables over all."""

from collections.abc import Mapping
from typing import Any, TypeAlias

from evenhand.jobs.batch.record import OutputNames
from evenhand.passes import clean

Row: TypeAlias = dict[str, str | int | float | None]

#: The figures of a take, each with where it stands in its record.
_FIGURES = {
    "hits": ("figures", "hits"),
    "strokes": ("figures", "strokes"),
    "moved": ("figures", "actions", "moved"),
    "kept": ("figures", "actions", "kept"),
    "carried": ("figures", "actions", "carried"),
    "held": ("figures", "actions", "held"),
    "largest_move_ms": ("figures", "largest_move"),
    "mean_before_ms": ("figures", "tightness", "all", "mean_before"),
    "mean_after_ms": ("figures", "tightness", "all", "mean_after"),
    "spread_before_ms": ("figures", "tightness", "all", "spread_before"),
    "spread_after_ms": ("figures", "tightness", "all", "spread_after"),
    "inside_before": ("figures", "tightness", "all", "inside_before"),
    "inside_after": ("figures", "tightness", "all", "inside_after"),
}

#: The columns of `batch.csv`, in order; docs/many-takes.md describes each.
COLUMNS = (
    *("take", "state", "reason", "bpm", "meter", "bars", "grid"),
    *_FIGURES,
    *("flags", "first_flag", "tightened", "changes", "record", "input_sha256"),
    *("offset_ms", "bpm_of_hits"),
)

#: In the tables a take is done or it failed: whether now or by an earlier run makes no difference.
IN_ORDER, NOT_DONE = "done", "failed"


def row_of(about: Mapping[str, Any], names: OutputNames) -> Row:
    """The row of a take, from its record."""
    row = empty_row(about["key"]["take"])
    row.update({name: _at(about, path) for name, path in _FIGURES.items()})
    flags = about["flags"]
    return row | {
        "state": IN_ORDER,
        "reason": "",
        "bpm": about["tempo_bpm"][0] if len(about["tempo_bpm"]) == 1 else None,
        "meter": about["meter"],
        "bars": about["bars"],
        "grid": _grids(about),
        "strokes": sum(about["figures"]["strokes"].values()),
        "flags": len(flags),
        "first_flag": f"{flags[0]['place']} {flags[0]['text']}" if flags else "",
        "tightened": names.midi,
        "changes": names.changes,
        "record": names.record,
        "input_sha256": about["key"]["input"],
        "offset_ms": about["offset_ms"],
        "bpm_of_hits": (about["tempo_of_hits"] or {}).get("bpm"),
    }


def failed_row(take: str, reason: str) -> Row:
    """The row of a take that could not be done."""
    return empty_row(take) | {"state": NOT_DONE, "reason": clean(reason)}


def empty_row(take: str) -> Row:
    """The row of a take of which nothing is known yet."""
    row: Row = dict.fromkeys(COLUMNS)
    return row | {"take": clean(take)}


def _at(about: Mapping[str, Any], path: tuple[str, ...]) -> Any:
    value: Any = about
    for name in path:
        value = value[name]
    return value


def _grids(about: Mapping[str, Any]) -> str:
    """The grids of its sections, each once, in order."""
    return ", ".join(dict.fromkeys(one["grid"] or "none" for one in about["sections"]))
