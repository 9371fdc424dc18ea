"""The house keeps its shape: imports run downwards, and the help page stays light."""

import ast
import importlib
import inspect
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import FunctionType

import evenhand

SOURCE = Path(evenhand.__file__).parent
#: From the ground up.
ROOMS = [
    "errors",
    "columns",
    "robust",
    "take",
    "kit",
    "sections",
    "grid",
    "pulse",
    "recipe",
    "fitter",
    "song",
    "ground",
    "habit",
    "measure",
    "part",
    "profile",
    "plan",
    "carry",
    "outcome",
    "tightener",
    "assessor",
    "sound",
    "paper",
    "compare",
    "passes",
    "web",
    "picture",
    "listen",
    "review",
    "jobs",
    "cli",
    "__main__",
]

#: What looks upwards all the same, when it is called: a take names its hits.
UPWARDS = ["take/take.py imports kit", "take/take.py imports recipe"]

#: Files of the core that meet the disk.
EDGES = ("files.py", "folder.py", "locks.py", "parts.py", "reading.py")


#: Take and recipe in, result out: no files, no clock, no printing.
CORE = ROOMS[ROOMS.index("take") : ROOMS.index("tightener")]
CORE.remove("fitter")


def _room(parts: tuple[str, ...]) -> str:
    return parts[0].removesuffix(".py")


@cache
def _nodes(path: Path) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


@cache
def _imports(path: Path) -> list[list[str]]:
    """The modules of ours that a file imports, each as its parts below `evenhand`."""
    found = []
    for node in _nodes(path):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("evenhand."):
            found.append((node.module or "").split(".")[1:])
        elif isinstance(node, ast.Import):
            found += [
                alias.name.split(".")[1:]
                for alias in node.names
                if alias.name.startswith("evenhand.")
            ]
    return found


def test_imports_run_downwards() -> None:
    upwards = []
    for path in sorted(SOURCE.rglob("*.py")):
        room = _room(path.relative_to(SOURCE).parts)
        if room == "__init__":
            continue
        upwards += [
            f"{path.relative_to(SOURCE)} imports {other[0]}"
            for other in _imports(path)
            if ROOMS.index(other[0]) > ROOMS.index(room)
        ]
    assert sorted(upwards) == UPWARDS


def _room_of(parts: tuple[str, ...]) -> tuple[str, ...]:
    """The room that a module stands in; each job is a room of its own."""
    return parts[: 2 if parts[0] == "jobs" else 1]


def test_rooms_are_entered_through_their_faces() -> None:
    past = []
    for path in sorted(SOURCE.rglob("*.py")):
        parts = path.relative_to(SOURCE).parts
        for other in map(tuple, _imports(path)):
            inside = len(other) > 1 and other != _room_of(other)
            if inside and len(parts) > 1 and _room_of(other) != _room_of(parts):
                past.append(f"{path.relative_to(SOURCE)} imports {'.'.join(other)}")
    assert past == []


def _edge(node: ast.AST) -> list[str]:
    """What in this node touches the world outside."""
    if isinstance(node, ast.Global):
        return ["global"]
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return [name for name in ("print", "open", "input") if node.func.id == name]
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names if alias.name in ("time", "random", "sys")]
    return []


def test_core_does_no_input_or_output() -> None:
    core = [SOURCE / f"{name}.py" for name in ("tightener", "assessor", "fitter")]
    for room in CORE:
        core += (SOURCE / room).glob("*.py")
    suspects = []
    for path in core:
        if path.name not in EDGES:
            suspects += [f"{path.name}: {thing}" for node in _nodes(path) for thing in _edge(node)]
    assert suspects == []


def _parameters(node: ast.FunctionDef | ast.AsyncFunctionDef) -> list[str]:
    given = node.args
    every = [*given.posonlyargs, *given.args, *given.kwonlyargs]
    return [one.arg for one in every if one.arg not in ("self", "cls")]


def test_no_function_of_the_core_has_more_than_six_parameters() -> None:
    core = [
        SOURCE / f"{name}.py" for name in ("columns", "robust", "tightener", "assessor", "fitter")
    ]
    for room in CORE:
        core += (SOURCE / room).glob("*.py")
    long = [
        f"{path.relative_to(SOURCE)}: {node.name} has {len(_parameters(node))}"
        for path in core
        for node in _nodes(path)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and len(_parameters(node)) > 6
    ]
    assert len(core) > 40
    assert long == []


def test_no_module_name_stands_twice() -> None:
    """So a name in a traceback, a search or a comment means one file."""
    every = [path.relative_to(SOURCE) for path in sorted(SOURCE.rglob("*.py"))]
    count = Counter(path.stem for path in every)
    twice = [str(path) for path in every if count[path.stem] > 1 and path.stem[:2] != "__"]
    assert len(count) > 250
    assert twice == []


def test_no_class_name_stands_twice() -> None:
    count = Counter(
        node.name
        for path in SOURCE.rglob("*.py")
        for node in _nodes(path)
        if isinstance(node, ast.ClassDef)
    )
    assert [name for name, many in count.items() if many > 1] == []


def test_help_page_needs_no_numpy() -> None:
    script = (
        "import sys; from evenhand.cli.app import app; "
        "print([name for name in ('numpy', 'mido', 'pretty_midi') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"


def test_public_face() -> None:
    for name in evenhand.__all__:
        assert getattr(evenhand, name) is not None
    assert set(evenhand.__all__) <= set(dir(evenhand))


#: Rooms whose faces still have functions that don't explain their parameters.
STILL_UNTOLD = [
    *("carry", "compare", "grid", "habit", "jobs", "listen", "paper", "passes"),
    *("review", "sound"),
]


def _shown(face: str) -> Iterator[FunctionType]:
    """The functions of a room's face, and the methods of its classes."""
    module = importlib.import_module(face)
    for thing in (getattr(module, name) for name in getattr(module, "__all__", ())):
        if inspect.isfunction(thing):
            yield thing
        elif inspect.isclass(thing) and thing.__module__.startswith("evenhand."):
            for name, member in vars(thing).items():
                one = getattr(member, "__func__", member)
                if inspect.isfunction(one) and not name.startswith("_"):
                    yield one


def test_what_a_room_shows_explains_its_parameters() -> None:
    untold: dict[str, list[str]] = {}
    for path in sorted(SOURCE.rglob("__init__.py")):
        parts = path.parent.relative_to(SOURCE).parts
        for one in _shown(".".join(("evenhand", *parts))):
            given = set(inspect.signature(one).parameters) - {"self", "cls"}
            if given and "Parameters\n---" not in (inspect.getdoc(one) or ""):
                room = one.__module__.split(".")[1]
                untold.setdefault(room, []).append(one.__qualname__)
    assert sorted(untold) == STILL_UNTOLD, untold
