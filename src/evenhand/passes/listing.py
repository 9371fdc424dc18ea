"""Passes in words: the list as a tree, what changed between recipes, one pass in full."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from evenhand.paper import Facts, Page, Table, many
from evenhand.passes.again import Proof
from evenhand.passes.entry import KIT, ORIGINAL, RECIPE, Pass
from evenhand.passes.store import History
from evenhand.recipe import BESIDE, Recipe

#: Digits of a hash that are shown where it only has to be told from others.
_SHORT = 12


def list_page(history: History) -> Page:
    """The list: a tree of what started from what, with figures and changes of the recipe."""
    if not history.passes:
        return Page(str(history.folder), [Facts("passes", ["none on record"]), *_doubts(history)])
    header = ["pass", "moved", "mean ms", "spread ms", "in window", "flags"]
    tree = list(_tree(history.passes))
    before = {one.number: other for other, one in _neighbours(history.passes)}
    rows = [
        [
            f"{'  ' * depth}{one.number}",
            _number(one, "moved"),
            _pair(one, "mean", "+.1f"),
            _pair(one, "spread", ".1f"),
            _pair(one, "inside", ".0f", " %"),
            _number(one, "flags"),
        ]
        for depth, one in tree
    ]
    width = max(len(str(one.number)) for one in history.passes)
    stories = [
        f"{one.number:>{width}}  {local_time(one.time)}  {_story(one, before[one.number])}"
        for _, one in tree
    ]
    parts: list[Facts | Table] = [
        _originals(history),
        Table("passes", header, rows, left=["pass"]),
        Facts("changed", stories),
        *_doubts(history),
    ]
    return Page(str(history.folder), parts)


def _originals(history: History) -> Facts:
    lines = []
    for sha, numbers in history.originals().items():
        names = dict.fromkeys(one.take for one in history.passes if one.original == sha)
        of = f" (of {'pass' if len(numbers) == 1 else 'passes'} {_numbers(numbers)})"
        lines.append(
            f"{', '.join(names)}  {sha[:_SHORT]}" + (of if len(history.originals()) > 1 else "")
        )
    return Facts("original" if len(lines) == 1 else "originals", lines)


def _numbers(numbers: list[int]) -> str:
    shown = ", ".join(map(str, numbers[:8]))
    return shown if len(numbers) <= 8 else f"{shown} and {len(numbers) - 8} more"


def _doubts(history: History) -> list[Facts]:
    return [Facts("doubt", list(history.problems))] if history.problems else []


def _tree(passes: tuple[Pass, ...]) -> Iterator[tuple[int, Pass]]:
    """Each pass with how many passes lie between it and its original, parents first."""
    children: dict[int, list[Pass]] = {}
    known = {one.number for one in passes}
    for one in passes:
        children.setdefault(one.start if one.start in known else ORIGINAL, []).append(one)
    todo = [(0, one) for one in reversed(children.get(ORIGINAL, []))]
    while todo:
        depth, one = todo.pop()
        yield depth, one
        todo += [(depth + 1, child) for child in reversed(children.get(one.number, []))]


def _neighbours(passes: tuple[Pass, ...]) -> Iterator[tuple[Pass | None, Pass]]:
    """Each pass with its neighbour: what it started from, or the last one from the original."""
    known = {one.number: one for one in passes}
    last: dict[str, Pass] = {}
    for one in passes:
        yield known.get(one.start) or last.get(one.original), one
        if one.start == ORIGINAL:
            last[one.original] = one


def _story(one: Pass, before: Pass | None) -> str:
    words = recipe_changes(one, before)
    start = f"from pass {one.start}: " if one.start else ""
    note = f' "{one.note}"' if one.note else ""
    return f"{start}{'; '.join(words)}{note}"


#: The file in the folder of a pass that each setting names.
_FILES = {"kit": KIT, **BESIDE}


def recipe_changes(one: Pass, before: Pass | None) -> list[str]:
    """What changed in the recipe since the pass before, or against the defaults.

    Examples: `strength 60 (was 75)`, `hold: added 17:4-18:1`.
    """
    base = before.recipe if before else _plain(Recipe().settings())
    words = []
    for name in dict.fromkeys([*base, *one.recipe]):
        now, then = one.recipe.get(name), base.get(name)
        if now != then:
            words += _change(name, now, then)
        elif (
            before
            and (file := _FILES.get(name))
            and (one.files.get(file) != before.files.get(file))
        ):
            words.append(f"{now} has other contents")
    if words:
        return words
    return [f"recipe as in pass {before.number}" if before else "the defaults"]


def _change(name: str, now: Any, then: Any) -> list[str]:
    label = name.replace("_", " ")
    if isinstance(now, list) and isinstance(then, list):
        here, there = ({_value(item): None for item in items} for items in (now, then))
        added = [word for word in here if word not in there]
        gone = [word for word in there if word not in here]
        words = [f"added {', '.join(added)}"] if added else []
        words += [f"took out {', '.join(gone)}"] if gone else []
        return [f"{label}: {', '.join(words) or 'another order'}"]
    return [f"{label} {_value(now)} (was {_value(then)})"]


def _value(value: Any) -> str:
    if value is None:
        return "not set"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return ", ".join(map(_value, value)) or "none"
    if isinstance(value, dict):
        return " ".join(f"{name} {_value(item)}" for name, item in value.items())
    return str(value)


def _plain(settings: dict[str, Any]) -> dict[str, Any]:
    return {
        name: list(value) if isinstance(value, tuple) else value for name, value in settings.items()
    }


def local_time(time: str) -> str:
    """A recorded time in this machine's zone, to the minute."""
    try:
        return datetime.fromisoformat(time).astimezone().strftime("%Y-%m-%d %H:%M")
    except (ValueError, OverflowError, OSError):
        return time


def _number(one: Pass, name: str) -> str:
    value = one.figures[name]
    return "-" if value is None else f"{value:g}"


def _pair(one: Pass, name: str, form: str, unit: str = "") -> str:
    """`20.3 > 12.1`: before and after."""
    before, after = one.figures[f"{name}_before"], one.figures[f"{name}_after"]
    if before is None or after is None:
        return "-"
    return f"{before:{form}} → {after:{form}}{unit}"


def pass_page(history: History, one: Pass, recipe: str, details: dict[str, Any]) -> Page:
    """One pass in full.

    Parameters
    ----------
    history : History
    one : Pass
    recipe : str
        The text of its recipe.
    details : dict
        Its figures and flags in full, as in `details.json`.
    """
    before = {later.number: other for other, later in _neighbours(history.passes)}[one.number]
    files = history.folder / one.folder
    flags = details.get("flags")
    rows = [
        [str(flag.get(name, "")) for name in ("place", "kind", "text")]
        for flag in (flags if isinstance(flags, list) else [])
        if isinstance(flag, dict)
    ]
    parts: list[Facts | Table] = [
        Facts("recorded", [f"{local_time(one.time)}, evenhand {one.evenhand}"]),
        *([Facts("note", [one.note])] if one.note else []),
        Facts(
            "took",
            [
                f"{one.take}  {one.original}"
                if one.start == ORIGINAL
                else f"the output of pass {one.start}  {one.input}"
            ],
        ),
        Facts("wrote", [f"{one.wrote}  {one.output}"]),
        Facts("changed", recipe_changes(one, before)),
        Facts("recipe", recipe.splitlines()),
        Facts("figures", _figures(one)),
        Table("listen to", ["place", "flag", "what"], rows, left=["place", "flag", "what"])
        if rows
        else Facts("listen to", ["no flags"]),
        Facts(
            "files", [str(files / name) for name in (RECIPE, *sorted(set(one.files) - {RECIPE}))]
        ),
    ]
    return Page(f"pass {one.number} of {one.take}", parts)


def _figures(one: Pass) -> list[str]:
    hits = ", ".join(
        f"{_number(one, name)} {name}" for name in ("moved", "kept", "carried", "held")
    )
    return [
        f"{_number(one, 'hits')} hits: {hits}",
        f"largest move {one.figures['largest_move'] or 0:.1f} ms",
        f"anchors: mean {_pair(one, 'mean', '+.1f')} ms, spread {_pair(one, 'spread', '.1f')} ms, "
        f"in the window {_pair(one, 'inside', '.0f')} %",
    ]


def proof_page(history: History, proof: Proof) -> Page:
    """What verifying has shown."""
    parts = [
        Facts(f"pass {number}", list(faults) or ["as recorded; its recipe gives the same bytes"])
        for number, faults in proof.passes.items()
    ]
    if proof.index:
        parts.append(Facts("index", list(proof.index)))
    if proof.edited:
        parts.append(Facts("edited", list(proof.edited)))
    return Page(f"{history.folder}: {many(len(proof.passes), 'pass', 'passes')}", parts)
