"""The fuzzer of recipes: `python -m tests.attack.recipes --seed 1 --count 20000 --workers 2`.

A recipe, written as TOML with hostile values, shapes and bytes, or given from Python, is refused
by an `EvenhandError` or tightens a small take; both in bounded time and memory.
"""

import math
import random
import tempfile
from collections.abc import Callable
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from tests import invariants
from tests.attack.bases import all_bases, made
from tests.attack.inside import scratch_root
from tests.attack.trial import bounded, chance_of, expect, main

from evenhand import EvenhandError, Recipe, Take, read_recipe, tighten

#: A tempo that wanders is followed beat by beat, which a recipe can ask for.
SECONDS, SECONDS_OF_A_FIT, MEGABYTES = 1.0, 4.0, 60.0

#: Values as TOML writes them, most of which no setting takes.
_VALUES = (
    *("0", "1", "-1", "50", "100", "101", "16", "17", "1e308", "1e400", "-1e400", "0.1", "-0.0"),
    *("nan", "inf", "-inf", "+nan", "1_000", "0x7fffffff", "9223372036854775807", "0b1", "1e-320"),
    *('""', '"auto"', '"none"', '"on"', '"off"', '"1/16"', '"1/8T"', '"1/0"', '"1/1000000"'),
    *('"17:4-18:1"', '"1:1-1:2"', '"1:1"', '"0:0"', '"999999999:1"', '"2:1-1:1"', '"1:9"'),
    *('"kick"', '"snare"', '"cymbal"', '"gm"', '"ekit"', '"missing.toml"', '"/dev/null"', '"."'),
    *('"a\\u0000b"', '"\\u202e"', '"=1+1"', "'''x'''", '"3/4"', '"7/5"', '"17-20"', '"-5-3"'),
    *("true", "false", "2026-11-02", "10:00:00", "2026-11-02T10:00:00Z", "[]", "{}", "[[]]"),
    *('["kick"]', '["kick", 1]', '["1:1-1:2", "1:1-1:2"]', "[1, 2]", "[[[1]]]", "[{}]"),
    *('{ at = "1:1" }', '{ piece = "snare", zone = "edge" }', '[{ at = "1:1", ms = -6 }]'),
    *('[{ bars = "1-2" }]', '[{ bars = "1-2", grid = "1/8", swing = 66.7, label = "verse" }]'),
    *('[{ bars = "1-2" }, { bars = "2-3" }]', '[{ name = "x", bars = "1-1000000000" }]'),
)
_WORDS = (
    "kick",
    "loose",
    "tight",
    "as-played",
    "hits",
    "spans",
    "stay",
    "move",
    "steady",
    "follow",
)


@cache
def _names() -> tuple[str, ...]:
    inner = ("at", "ms", "bars", "piece", "label", "name")
    return (*Recipe().settings(), *inner, "unknown", '"a b"', "defaults.grid", "kit.base", "''")


def _monster(chance: random.Random) -> str:
    """Numbers of thousands of digits, tables in tables in tables, lists without end."""
    depth = chance.choice([7, 300, 20_000])
    monsters = (
        chance.choice("19") * depth,
        "[" * depth + "]" * (depth - chance.choice([0, 0, 1])),
        "{a=" * depth + "1" + "}" * depth,
        '["' + '", "'.join(f"{bar}:1" for bar in range(1, depth // 6 + 2)) + '"]',
    )
    return chance.choice(monsters)


def _value(chance: random.Random) -> str:
    roll = chance.random()
    if roll < 0.07:
        return _monster(chance)
    if roll < 0.15:
        return f"{chance.uniform(-200, 200):.3f}"
    if roll < 0.25:
        return str(chance.randint(-3, 200))
    if roll < 0.4:
        return f'"{chance.choice(_WORDS)}"'
    return chance.choice(_VALUES)


def _sound(chance: random.Random) -> str:
    """A setting with a value that it takes, at the edge of what it takes where there is one."""
    number = chance.choice(["0", "1e-9", "1", "33.3", "50", "99.999999", "100"])
    lines = (
        *('grid = "1/4"', 'grid = "1/32T"', 'grid = "auto"', f"strength = {number}"),
        *(f"reach = {number}", f"lean = {number}", f"window = {number}", f"together = {number}"),
        *("window = 1e300", "together = 1e300", "swing = 20", "swing = 80", "latency = 10000"),
        *("latency = -10000", 'latency = "auto"', "ghost_below = 1", "ghost_below = 128"),
        *('sections = "none"', 'sections = "markers"', 'fills = "tight"', 'fills = "as-played"'),
        *('ornaments = "off"', 'plan = "spans"', f"span_cost = {number}", "lean_follow = 1000"),
        *('hold = ["1:1"]', 'hold = ["1:1-999999999:1"]', "resolution = 32760", "resolution = 960"),
        *('fit = "auto"', 'fit = "follow"', 'fit = "steady"', "smooth = 64", "near = 320"),
        *('fit = "auto"\nmeter = "32/16"', 'fit = "auto"\nfirst_beat = 1e15', "near = 36"),
        *('anchor = ["hat"]', 'anchor = ["other"]', 'kit = "gm"', "channel = 10", "channel = 1"),
    )
    return chance.choice(lines)


def _line(chance: random.Random) -> str:
    if chance.random() < 0.6:
        return _sound(chance)
    roll = chance.random()
    if roll < 0.05:
        return chance.choice(["[defaults]", "[section]", "[[section]]", "[[hold]]", "[[nudge]]"])
    if roll < 0.07:
        return chance.choice(
            ["[a]" * 50, "[" + "a." * 20_000 + "a]", "=", "# é", "\x00", "\r", "["]
        )
    return f"{chance.choice(_names())} = {_value(chance)}"


def _text(chance: random.Random) -> str:
    """A whole file: lines of hostile settings around tables that are nearly right."""
    lines = [_line(chance) for _ in range(chance.choice([1, 1, 2, 4, 12]))]
    for _ in range(chance.choice([0, 0, 1, 3])):
        table = chance.choice(["section", "hold", "nudge"])
        first = chance.randint(-1, 6)
        keys = {
            "section": [f'bars = "{first}-{first + chance.randint(-1, 4)}"', 'label = "verse"'],
            "hold": [f'at = "{first}:{chance.randint(0, 6)}"'],
            "nudge": [f'at = "{first}:1"', f"ms = {_value(chance)}", f"piece = {_value(chance)}"],
        }[table]
        lines += [f"[[{table}]]", *chance.sample(keys, chance.randint(0, len(keys)))]
        lines += [_line(chance) for _ in range(chance.choice([0, 0, 1]))]
    if chance.random() < 0.2:
        lines.append("strength = 50\n" * chance.choice([1, 2, 2000]))
    return "\n".join(lines) + "\n"


def text_of(seed: int, number: int) -> bytes:
    """The recipe of a case as it lies on disk."""
    chance = chance_of(seed, number, "recipe")
    data = bytearray(_text(chance).encode())
    for _ in range(chance.choice([0, 0, 0, 1, 5])):
        place = chance.randrange(len(data) + 1)
        data[place : place + chance.randint(0, 2)] = chance.randbytes(chance.randint(0, 2))
    return bytes(data[:100_000])


_OBJECTS: tuple[Callable[[], Any], ...] = (
    *(lambda: None, object, lambda: math.nan, lambda: math.inf, lambda: True, lambda: b"1/16"),
    *(lambda: 10**400, lambda: -(10**400), lambda: 1j, lambda: date(2026, 11, 2), lambda: [None]),
    *(lambda: {"at": "1:1"}, lambda: [{"at": "1:1", "ms": math.nan}], lambda: (), lambda: "auto"),
    *(lambda: [{"bars": "1-2", "strength": math.inf}], lambda: [[]], lambda: {1: 2}, lambda: "\0"),
    *(lambda: ["kick", None], lambda: "\ud800", lambda: ["\ud800"], lambda: 5, lambda: 0.5),
    *(lambda: {"kick"}, lambda: iter(["kick"]), lambda: range(3), lambda: Recipe, lambda: "1/8"),
)


def _from_python(chance: random.Random) -> Recipe:
    names = list(Recipe().settings())
    return Recipe().with_settings(
        {chance.choice(names): chance.choice(_OBJECTS)() for _ in range(chance.choice([1, 1, 3]))}
    )


@cache
def small_takes() -> tuple[Take, ...]:
    """Takes to try recipes on."""
    return tuple(Take.from_bytes(data) for data in (*made(), all_bases()[len(made())]))


def case(seed: int, number: int) -> str:
    """Try one hostile recipe."""
    chance = chance_of(seed, number, "how")
    recipe = bounded(SECONDS, MEGABYTES, "reading", lambda: _recipe(seed, number))
    if recipe is None:
        return "refused"
    seconds = SECONDS if recipe.fit == Recipe().fit else SECONDS_OF_A_FIT
    take = chance.choice(small_takes())
    return bounded(seconds, MEGABYTES, "tightening", lambda: _tightened(take, recipe))


def _recipe(seed: int, number: int) -> Recipe | None:
    """The recipe of a case; None if it is refused."""
    chance = chance_of(seed, number, "from")
    try:
        if chance.random() < 0.15:
            return _from_python(chance)
        return from_file(text_of(seed, number))
    except EvenhandError as error:
        _refused("refused", error)
        return None


def _tightened(take: Take, recipe: Recipe) -> str:
    try:
        result = tighten(take, recipe)
    except EvenhandError as error:
        return _refused("read, then refused", error)
    invariants.bytes_are_kept(result)
    return "tightened"


def from_file(text: bytes) -> Recipe:
    """Read a recipe from a file with these bytes."""
    with tempfile.NamedTemporaryFile(suffix=".toml", dir=scratch_root() or None) as file:
        file.write(text)
        file.flush()
        return read_recipe(Path(file.name))


def _refused(how: str, error: EvenhandError) -> str:
    expect(str(error).isprintable(), f"{str(error)!r} can't be printed")
    expect(len(str(error)) < 2000, f"a message of {len(str(error))} letters")
    return how


if __name__ == "__main__":
    main(case, "Hostile recipes.", 20_000)
