"""The numbers of every stage: what the functions of the core answer on the way to a result.

A net behind the tests with worked numbers, finer than the decisions themselves: it says only that
nothing has changed, and where it did. Of each function of `ROOMS` that other files may call, what
it answers is added up field by field: how many numbers, the sum of their sizes, and a sum in
which each place weighs otherwise. What is handed on as it was answered before counts once.
"""

import contextlib
import functools
import importlib
import inspect
import math
import pkgutil
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from types import ModuleType
from typing import Any, TypeVar

import numpy as np

from evenhand.columns import Floats
from evenhand.ground import Ground
from evenhand.recipe import Recipe
from evenhand.take import Take

T = TypeVar("T")

#: The rooms that are listened to.
ROOMS = ("plan", "carry", "grid", "sections", "habit")
_CALLERS = ("ground", "measure", "outcome", "part", "profile", "pulse")

#: What is as it was given, or is on record itself (the ground's layout and sections).
_GIVEN = (Ground, Recipe, Take)

#: Two sums are one if they differ by less than this share of the sum of sizes: another machine
#: rounds otherwise.
_SLACK = 2e-9

#: A golden section apart, so that no two places weigh the same, nor in a simple ratio.
_STEP = 0.6180339887498949

#: Of a field: how many numbers, how many of them none (NaN, infinite), sum of sizes, weighted sum.
Sums = tuple[int, int, float, float]


def listened(work: Callable[[], T]) -> tuple[T, dict[str, dict[str, Sums]]]:
    """Do something; what came of it, and the sums of each field that a function has answered."""
    answers: dict[str, dict[tuple[Any, ...], None]] = {}
    told: dict[int, object] = {}

    def hear(name: str, answer: object) -> None:
        sums = tuple((where, _sums(one)) for where, one in _columns(answer, "", told))
        if sums:
            answers.setdefault(name, {})[sums] = None

    with _heard_by(hear):
        done = work()
    return done, {name: _added_up(list(some)) for name, some in sorted(answers.items())}


@contextlib.contextmanager
def _heard_by(hear: Callable[[str, object], None]) -> Iterator[None]:
    """For as long as this lasts, tell what each function of the rooms answers that is not inner."""
    wrapped: dict[Callable[..., Any], Callable[..., Any]] = {}

    def wrap(function: Callable[..., Any]) -> Callable[..., Any]:
        name = _name_of(function)
        if name and function not in wrapped:

            @functools.wraps(function)
            def call(*words: Any, **more: Any) -> Any:
                answer = function(*words, **more)
                hear(name, answer)
                return answer

            wrapped[function] = call
        return wrapped.get(function, function)

    for module in _modules():
        for one in vars(module).values():
            if hasattr(one, "cache_clear"):
                # Who is asked does not depend on what has been asked before.
                one.cache_clear()
    undo: list[tuple[Any, str, Any]] = []
    for holder, name, old in _functions():
        new = wrap(old) if inspect.isfunction(old) else property(wrap(old.fget))
        undo.append((holder, name, old))
        setattr(holder, name, new)
    try:
        yield
    finally:
        for holder, name, old in undo:
            setattr(holder, name, old)


@functools.cache
def _functions() -> list[tuple[Any, str, Any]]:
    """Every function of the rooms, and every property of their classes, wherever it has a name."""
    found = []
    for module in _modules():
        for name, one in vars(module).items():
            if inspect.isfunction(one) and _name_of(one):
                found.append((module, name, one))
            elif inspect.isclass(one) and one.__module__ == module.__name__:
                for own, part in vars(one).items():
                    function = part.fget if isinstance(part, property) else part
                    if inspect.isfunction(function) and _name_of(function):
                        found.append((one, own, part))
    return found


def _modules() -> list[ModuleType]:
    """All of the rooms and of those that call them, whatever has been loaded before."""
    modules = [importlib.import_module("evenhand.tightener")]
    for room in (*ROOMS, *_CALLERS):
        package = importlib.import_module(f"evenhand.{room}")
        names = [f"evenhand.{room}.{one.name}" for one in pkgutil.iter_modules(package.__path__)]
        modules += [package, *map(importlib.import_module, names)]
    return modules


def _name_of(function: Callable[..., Any]) -> str:
    """`room/file.function` of what is listened to, else nothing."""
    _, _, within = function.__module__.partition("evenhand.")
    room, _, file = within.partition(".")
    inner = any(part.startswith(("_", "<")) for part in function.__qualname__.split("."))
    return "" if room not in ROOMS or inner else f"{room}/{file}.{function.__qualname__}"


def _columns(value: Any, where: str, told: dict[int, object]) -> Iterator[tuple[str, Any]]:
    """The columns of an answer by the names of their fields, but for what has been told before."""
    if isinstance(value, _GIVEN) or callable(value):
        return
    if is_dataclass(value) or isinstance(value, np.ndarray):
        if id(value) in told:
            return
        # Kept alive, so that nothing else gets its identity.
        told[id(value)] = value
    if is_dataclass(value):
        for one in fields(value):
            inside = f"{where}.{one.name}" if where else one.name
            yield from _columns(getattr(value, one.name), inside, told)
    elif isinstance(value, Mapping):
        yield from _columns([*value.items()], where, told)
    elif isinstance(value, list | tuple | set | frozenset):
        for one in sorted(value) if isinstance(value, set | frozenset) else value:
            yield from _columns(one, where, told)
    else:
        yield where, value


def _sums(value: Any) -> Sums:
    if isinstance(value, np.ndarray) and value.dtype.kind in "fiub":
        column = value.astype(np.float64).ravel()
    elif isinstance(value, bool | int | float | np.number | np.bool_):
        column = np.array([float(value)])
    else:
        words = value.ravel().tolist() if isinstance(value, np.ndarray) else [value]
        column = np.array([zlib.crc32(str(word).encode()) / 2**32 for word in words])
    weight, size = _weights(len(column)), float(np.abs(column).sum())
    if math.isfinite(size):
        return len(column), 0, size, float(column @ weight)
    there = np.isfinite(column)
    finite = np.where(there, column, 0.0)
    # Where there is no number is told by a weight as well.
    whole = float(finite @ weight) + float(weight[~there].sum())
    return len(column), int((~there).sum()), float(np.abs(finite).sum()), whole


@functools.cache
def _weights(count: int) -> Floats:
    return np.asarray(0.5 + (_STEP * np.arange(1, count + 1)) % 1.0)


def _added_up(answers: list[tuple[tuple[str, Sums], ...]]) -> dict[str, Sums]:
    """One sum for each field of all different answers; the order of answers counts."""
    total: dict[str, Sums] = {}
    for number, answer in enumerate(answers):
        for place, (where, (many, none, size, whole)) in enumerate(answer):
            turn = 1.0 + (_STEP * (number + 3 * place)) % 1.0
            was = total.get(where, (0, 0, 0.0, 0.0))
            new = (many, none, size, turn * whole)
            total[where] = tuple(one + other for one, other in zip(was, new, strict=True))
    return total


def written(sums: dict[str, Sums]) -> str:
    """The fields of a function as one line."""
    return "; ".join(
        f"{where or '='} {many}{f'-{none}' if none else ''} {size:.11g} {whole:.11g}"
        for where, (many, none, size, whole) in sums.items()
    )


def differences(line: str, other: str) -> list[str]:
    """The fields in which two lines differ by more than rounding, in words."""
    one, two = (
        {field.split(" ")[0]: field for field in some.split("; ")} for some in (line, other)
    )
    return [
        f"{where}: {one.get(where, 'not there')!r}, on record {two.get(where, 'not there')!r}"
        for where in dict.fromkeys([*one, *two])
        if not _alike(one.get(where, ""), two.get(where, ""))
    ]


def _alike(field: str, other: str) -> bool:
    if field == other:
        return True
    one, two = field.split(" "), other.split(" ")
    if len(one) != 4 or len(two) != 4 or one[:2] != two[:2]:
        return False
    slack = _SLACK * float(two[2]) + 1e-12
    return all(abs(float(a) - float(b)) <= slack for a, b in zip(one[2:], two[2:], strict=True))
