"""Passes as data: one line of `passes.jsonl` each (docs/passes.md describes every key).

A line is one JSON object. `schema` and `pass` keep their meaning in every version; keys may be
added to a schema, so a reader passes over those it does not know.
"""

import json
import math
import re
from dataclasses import dataclass
from typing import Any

from evenhand.errors import DiskError
from evenhand.recipe import BESIDE

#: Version of the line; a change that an older evenhand would misread gets a new one.
SCHEMA = 1

#: The untouched original counts as pass 0.
ORIGINAL = 0

#: What lies in the folder of a pass beside its output and `pass.json`; not all have a kit file,
#: nor the other files that a recipe may name.
_ALWAYS = (RECIPE, CHANGES, DETAILS, KIT) = (
    "recipe.toml",
    "changes.csv",
    "details.json",
    "kit.toml",
)
FILES = (*_ALWAYS, *BESIDE.values())

#: The largest number of a pass: its folder has six digits at the most.
LARGEST_NUMBER = 10**6 - 1
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Pass:
    """One pass on record.

    Attributes
    ----------
    number : int
        From 1, in the order of recording.
    start : int
        The pass whose output it started from; 0 is the original.
    time : str
        When it was recorded: ISO 8601, UTC, whole seconds.
    evenhand : str
        The version that made it.
    note : str
        What the person said about it; empty without.
    take, wrote : str
        Name of the take, and of the file written (relative, if it does not lie beside the folder).
    original, input, output : str
        SHA-256 of the untouched original, of what the pass read, and of what it wrote. `input` is
        `original` unless the pass started from another.
    files : dict of str to str
        SHA-256 of the other files in its folder, by name.
    recipe : dict
        All settings by name. A kit file is named without its folder.
    figures : dict of str to float or None
        The figures that show how a pass went; see `FIGURES`.
    """

    number: int
    start: int
    time: str
    evenhand: str
    note: str
    take: str
    wrote: str
    original: str
    input: str
    output: str
    files: dict[str, str]
    recipe: dict[str, Any]
    figures: dict[str, float | None]

    @property
    def folder(self) -> str:
        """Name of the folder that holds its files."""
        return f"{self.number:04d}"


#: The key of each attribute in a line, with the kind of its value.
_KEYS: dict[str, tuple[str, str]] = {
    "number": ("pass", "number"),
    "start": ("from", "number"),
    "time": ("time", "text"),
    "evenhand": ("evenhand", "text"),
    "note": ("note", "text"),
    "take": ("take", "text"),
    "wrote": ("wrote", "text"),
    "original": ("original", "sha"),
    "input": ("input", "sha"),
    "output": ("output", "sha"),
    "files": ("files", "files"),
    "recipe": ("recipe", "table"),
    "figures": ("figures", "figures"),
}

#: The keys of a line.
KEYS = ("schema", *(key for key, _ in _KEYS.values()))

#: The figures in a line: counts of hits, and of all anchors ms and percent.
FIGURES = (
    "hits",
    "moved",
    "kept",
    "carried",
    "held",
    "flags",
    "largest_move",
    "mean_before",
    "mean_after",
    "spread_before",
    "spread_after",
    "inside_before",
    "inside_after",
)


def as_line(one: Pass) -> dict[str, Any]:
    """A pass as the object of its line."""
    return {"schema": SCHEMA, **{key: getattr(one, name) for name, (key, _) in _KEYS.items()}}


def read_line(text: str | bytes) -> Pass:
    """Read one line.

    Raises
    ------
    DiskError
        If it is no such line, or of a newer schema; the message says what is wrong with it.
    """
    try:
        line = json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError):
        raise DiskError("it is not JSON") from None
    return from_line(line)


def from_line(line: Any) -> Pass:
    """The pass of a line's object (see `read_line`)."""
    if not isinstance(line, dict):
        raise DiskError("it is not a JSON object")
    schema = line.get("schema")
    if schema != SCHEMA or isinstance(schema, bool):
        if isinstance(schema, int) and schema > SCHEMA:
            raise DiskError(f"it was written by a newer evenhand (schema {schema}); update yours")
        raise DiskError("it has no schema")
    values = {}
    for name, (key, kind) in _KEYS.items():
        if key not in line or not _CHECKS[kind](line[key]):
            raise DiskError(f"its {key!r} is missing or makes no sense")
        values[name] = line[key]
    if values["number"] < 1 or values["start"] >= values["number"]:
        raise DiskError("its numbers make no sense")
    return Pass(**values)


def clean(text: str) -> str:
    """Text that can be written as UTF-8, whatever bytes a file name was made of."""
    return text.encode("utf-8", "backslashreplace").decode()


def _refuse_constant(word: str) -> None:
    raise ValueError(word)


def _is_number(value: Any) -> bool:
    return type(value) is int and 0 <= value <= LARGEST_NUMBER


def _is_sha(value: Any) -> bool:
    return isinstance(value, str) and _SHA256.fullmatch(value) is not None


def _is_shallow(value: Any, levels: int = 6) -> bool:
    """Whether lists and tables lie in each other only a few levels deep, as settings do."""
    if not isinstance(value, (dict, list)):
        return True
    inner = value.values() if isinstance(value, dict) else value
    return levels > 0 and all(_is_shallow(one, levels - 1) for one in inner)


def _are_figures(value: Any) -> bool:
    return isinstance(value, dict) and all(
        name in value
        and (value[name] is None or (type(value[name]) in (int, float) and _finite(value[name])))
        for name in FIGURES
    )


def _finite(value: float) -> bool:
    return -1e12 < value < 1e12 and math.isfinite(value)


_CHECKS = {
    "number": _is_number,
    "text": lambda value: isinstance(value, str) and clean(value) == value,
    "sha": _is_sha,
    "files": lambda value: (
        isinstance(value, dict) and set(value) <= set(FILES) and all(map(_is_sha, value.values()))
    ),
    "table": lambda value: isinstance(value, dict) and _is_shallow(value),
    "figures": _are_figures,
}
