"""What a worker on another machine answers: bytes and JSON, and nothing is believed unread.

An answer is one line of JSON, then the tightened take, then the change log. The line holds the
sizes of both and the record, or the reason why there is none. Whoever can reach a worker could put
anything there, so before a file is written the record is held against its schema and the task, the
hashes are computed again, the take is read back, and its events are compared with those that went
out: only their times may differ.
"""

import contextlib
import json
import math
import re
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from evenhand.errors import EvenhandError, MidiFileError
from evenhand.jobs.batch.one import Made, Task, make, plain
from evenhand.jobs.batch.record import DONE, SCHEMA, digest, names_of, plain_recipe
from evenhand.jobs.batch.rows import row_of
from evenhand.outcome import COLUMNS
from evenhand.take import Take

#: Longest text in a record, and how deep lists and tables lie in each other.
_LONGEST, _DEEPEST = 4000, 10

#: A line of the change log, whose words come from closed lists.
_LINE = re.compile(rb"[A-Za-z0-9 .:-]*(,[A-Za-z0-9 .:-]*)*")


class AnswerError(EvenhandError):
    """A worker's answer is not what it was asked for."""


def answer(task: Task) -> bytes:
    """Tighten one take, wherever this runs."""
    try:
        made = make(task)
    except EvenhandError as error:
        return json.dumps({"failed": str(error)}).encode() + b"\n"
    except MemoryError:
        return json.dumps({"failed": "not enough memory for this take"}).encode() + b"\n"
    head = {"midi": len(made.midi), "changes": len(made.changes), "about": made.about}
    return json.dumps(head).encode() + b"\n" + made.midi + made.changes


def read_answer(data: Any, task: Task) -> Made:
    """Check an answer.

    Raises
    ------
    EvenhandError
        With the worker's reason if it failed, or with what is wrong with its answer.
    """
    head, body = _parted(data)
    if "failed" in head:
        _hold(isinstance(head["failed"], str), "its reason is no text")
        raise EvenhandError(head["failed"])
    _hold(
        type(head.get("midi")) is int and 0 <= head["midi"] <= len(body),
        "its sizes make no sense",
    )
    midi, changes, about = body[: head["midi"]], body[head["midi"] :], head.get("about")
    _hold(head.get("changes") == len(changes), "its sizes make no sense")
    _check_record(about, task, midi, changes)
    hits = _check_take(midi, task)
    _check_log(changes, hits)
    return Made(midi, changes, dict(about or {}))


def _hold(holds: object, otherwise: str) -> None:
    if not holds:
        raise AnswerError(f"the worker's answer was not used: {otherwise}")


def _parted(data: Any) -> tuple[dict[str, Any], bytes]:
    _hold(isinstance(data, bytes) and b"\n" in data, "it is not in the form of an answer")
    line, _, body = data.partition(b"\n")
    try:
        head = json.loads(line, parse_constant=_no_number)
    except (ValueError, RecursionError):
        head = None
    _hold(isinstance(head, dict), "it is not in the form of an answer")
    return head, body


def _no_number(word: str) -> None:
    raise ValueError(word)


def _check_record(about: Any, task: Task, midi: bytes, changes: bytes) -> None:
    """The record tells of this task and of these files, and has what tables are made of."""
    _hold(isinstance(about, dict) and _is_plain(about), "its record makes no sense")
    _hold(about.get("schema") == SCHEMA and about.get("state") == DONE, "its record is no record")
    _hold(about.get("key") == vars(task.key), "its record tells of another take or recipe")
    files = {"midi": digest(midi), "changes": digest(changes)}
    _hold(about.get("files") == files, "its files are not what its record says")
    recipe = json.loads(json.dumps(plain(plain_recipe(task.recipe, task.kit).settings())))
    _hold(about.get("recipe") == recipe, "its record tells of another recipe")
    for name, is_sound in _SCHEMA.items():
        _hold(is_sound(about.get(name)), f"{name} in its record makes no sense")
    cells: list[object] = [[]]
    with contextlib.suppress(LookupError, TypeError, AttributeError, ValueError):
        cells = list(row_of(about, names_of(task.source.output)).values())
    _hold(all(map(_is_cell, cells)), "its record lacks figures")


def _is_cell(value: object) -> bool:
    return value is None or type(value) in (str, int, float)


def _is_plain(value: Any, deep: int = _DEEPEST) -> bool:
    """Whether it is JSON of a record's kind: not too deep, no text too long, numbers that are."""
    if isinstance(value, dict | list):
        inner = [*value, *value.values()] if isinstance(value, dict) else value
        return deep > 0 and all(_is_plain(one, deep - 1) for one in inner)
    if isinstance(value, str):
        return len(value) <= _LONGEST
    return not isinstance(value, float) or math.isfinite(value)


def _is_list(of: Callable[[Any], bool]) -> Callable[[Any], bool]:
    return lambda value: isinstance(value, list) and all(map(of, value))


def _has_text(*names: str) -> Callable[[Any], bool]:
    return lambda value: (
        isinstance(value, Mapping) and all(isinstance(value.get(name), str) for name in names)
    )


def _is_number(value: Any) -> bool:
    return type(value) in (int, float)


#: What the tables and pages read in a record.
_SCHEMA: dict[str, Callable[[Any], bool]] = {
    "figures": lambda value: isinstance(value, dict),
    "flags": _is_list(_has_text("place", "kind", "text")),
    "sections": _is_list(
        lambda one: isinstance(one, dict) and isinstance(one.get("grid"), str | None)
    ),
    "tempo_bpm": _is_list(_is_number),
    "meter": lambda value: isinstance(value, str),
    "bars": lambda value: type(value) is int and value >= 0,
}


def _check_take(midi: bytes, task: Task) -> int:
    """The take that came back is the one that went out, but for its times; its number of hits."""
    try:
        sent, back = Take.from_bytes(task.data), Take.from_bytes(midi)
        channel = sent.drum_channel(task.recipe.channel)
        hits = len(back.struck(channel + 1))
    except MidiFileError as error:
        raise AnswerError(f"the worker's answer was not used: its take is {error}") from None
    pairs = list(zip(sent.smf.tracks, back.smf.tracks, strict=False))
    same = len(sent.smf.tracks) == len(back.smf.tracks)
    for one, other in pairs:
        # A fit writes tempo and meter anew, and nothing else that is no channel's.
        orders = [track.by_voice[track.status[track.by_voice] < 0xF0] for track in (one, other)]
        same = same and all(
            np.array_equal(getattr(one, name)[orders[0]], getattr(other, name)[orders[1]])
            for name in ("status", "data1", "data2")
        )
    _hold(same, "its take has other events than the one that was sent")
    return hits


def _check_log(changes: bytes, hits: int) -> None:
    lines = changes.split(b"\n")
    commas = COLUMNS.count(",")
    _hold(
        lines[0] == COLUMNS.encode()
        and len(lines) == hits + 2
        and not lines[-1]
        and all(line.count(b",") == commas and _LINE.fullmatch(line) for line in lines[1:-1]),
        "its change log is not in order",
    )
