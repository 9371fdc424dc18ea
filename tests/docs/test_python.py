"""The Python reference holds: each function of the face says all there is, and examples run."""

import doctest
import inspect
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import evenhand
from evenhand.jobs.demo_take import NAME, demo_take, recipe

_GUIDE = Path(__file__).parents[2] / "docs" / "python.md"


def _programs() -> dict[str, tuple[str, str | None]]:
    """The program of each chapter of the guide that has one, with what is shown of its output."""
    found = {}
    for chapter in _GUIDE.read_text("utf-8").split("\n## ")[1:]:
        code = re.search(r"```python\n(.*?)```", chapter, re.DOTALL)
        printed = re.search(r"```text\n(.*?)```", chapter, re.DOTALL)
        if code:
            found[chapter.splitlines()[0]] = (code[1], printed and printed[1])
    return found


_PROGRAMS = _programs()


def _functions() -> Iterator[tuple[str, Any]]:
    """Every function of the face, methods with their class."""
    for name in evenhand.__all__:
        thing = getattr(evenhand, name)
        if inspect.isfunction(thing):
            yield name, thing
        elif inspect.isclass(thing) and not issubclass(thing, Exception):
            for key in dir(thing):
                method = inspect.getattr_static(thing, key)
                if not key.startswith("_") and isinstance(method, staticmethod):
                    yield f"{name}.{key}", method.__func__
                elif not key.startswith("_") and inspect.isfunction(method):
                    yield f"{name}.{key}", method


_FUNCTIONS = dict(_functions())


def _demo(folder: Path) -> None:
    (folder / f"{NAME}.mid").write_bytes(demo_take())
    (folder / f"{NAME}.recipe.toml").write_bytes(recipe())


def test_the_face_is_looked_at() -> None:
    assert {"read_take", "tighten", "Take.hits", "Changes.to_csv", "Recipe.save"} <= {*_FUNCTIONS}


@pytest.mark.parametrize("name", _FUNCTIONS)
def test_functions_of_the_face_say_all_there_is(name: str) -> None:
    function = _FUNCTIONS[name]
    text, signature = inspect.getdoc(function) or "", inspect.signature(function)
    missing = []
    given = [one for one in signature.parameters if one != "self"]
    if given and "\nParameters\n---" not in text:
        missing.append("Parameters")
    missing += [one for one in given if not re.search(rf"^\W*{one}\b.*", text, re.M)]
    if signature.return_annotation not in (None, "None") and "\nReturns\n---" not in text:
        missing.append("Returns")
    if "\nExamples\n---" not in text:
        missing.append("Examples")
    assert missing == []


def test_every_attribute_of_the_face_is_explained() -> None:
    missing = []
    for name in evenhand.__all__:
        thing = getattr(evenhand, name)
        missing += [
            f"{name}.{field}"
            for field in getattr(thing, "__dataclass_fields__", {})
            if not re.search(rf"^ *[\w, ]*\b{field}\b[\w, ]* : ", thing.__doc__ or "", re.M)
        ]
        missing += [
            f"{name}.{key}"
            for key, one in (vars(thing).items() if inspect.isclass(thing) else ())
            if isinstance(one, property) and not key.startswith("_") and not one.__doc__
        ]
    assert missing == []


@pytest.mark.parametrize("name", [*_FUNCTIONS, "Recipe"])
def test_examples_run(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _demo(tmp_path)
    monkeypatch.chdir(tmp_path)
    names = {one: getattr(evenhand, one) for one in evenhand.__all__}
    names |= {"np": np, "Path": Path, "evenhand": evenhand}
    thing = _FUNCTIONS.get(name, evenhand.Recipe)
    (test,) = doctest.DocTestFinder(recurse=False).find(thing, name, globs=names)
    told: list[str] = []
    found = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS).run(test, out=told.append)
    assert found.attempted > 0
    assert told == []


@pytest.mark.parametrize("title", _PROGRAMS)
def test_programs_of_the_guide_run(title: str, tmp_path: Path) -> None:
    code, printed = _PROGRAMS[title]
    for package in ("matplotlib", "pandas"):
        if package in code:
            pytest.importorskip(package)
    _demo(tmp_path)
    (tmp_path / "takes").mkdir()
    for number in (1, 2):
        (tmp_path / "takes" / f"take-{number}.mid").write_bytes(demo_take())
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], cwd=tmp_path, check=False,
        env={**os.environ, "MPLBACKEND": "agg"}, capture_output=True, text=True, encoding="utf-8",
    )  # fmt: skip
    assert done.stderr == ""
    if os.environ.get("EVENHAND_REFRESH") and printed is not None:
        head, chapter = _GUIDE.read_text("utf-8").split(f"## {title}\n")
        shown = chapter.replace(f"```text\n{printed}```", f"```text\n{done.stdout}```", 1)
        _GUIDE.write_text(f"{head}## {title}\n{shown}", "utf-8")
    assert done.stdout == (printed or "")
    made = {path.name for path in tmp_path.iterdir()}
    assert set(re.findall(r'\("([\w-]+\.\w+)"\)', code)) <= made


def test_the_guide_has_five_programs() -> None:
    assert len(_PROGRAMS) == 5
