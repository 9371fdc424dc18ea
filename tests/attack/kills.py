"""The killer: `python -m tests.attack.kills --seed 1 --count 1000 --workers 2`.

A command is killed (SIGKILL) right before one of its calls that change the disk, each in turn, or
at a random instant. What is then at a final name is whole: what was there before, or what an
undisturbed run writes. The same command given once more leaves what an undisturbed run leaves, and
nothing besides.
"""

import atexit
import contextlib
import os
import shutil
import signal
import tempfile
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from math import gcd
from pathlib import Path

from tests.attack.inside import promised, scratch_root
from tests.attack.trial import chance_of, expect, main
from tests.build import drum_bytes
from tests.crashing import count_calls, die_at

#: Every call through which something on disk changes.
CALLS = (
    *("mkdir", "rename", "replace", "unlink", "rmdir", "truncate", "ftruncate", "fsync", "open"),
    *("link", "chmod", "write", "close"),
)

_TAKE = drum_bytes([(line * 240 + line % 5 * 9, 42 if line % 2 else 36) for line in range(40)])
_OTHER = drum_bytes([(line * 240 + line % 7 * 9, 42 if line % 2 else 36) for line in range(40)])


@dataclass(frozen=True)
class Scene:
    """A command and what is there before it.

    Attributes
    ----------
    before : tuple of str
        Commands that have been run in the folder.
    command : str
        The one that is killed.
    again : str
        The one that is given after that.
    growing : bool
        Whether a second run adds a pass to the record, so that the record may hold one more.
    """

    before: tuple[str, ...]
    command: str
    again: str
    growing: bool = False


def _alike(before: tuple[str, ...], command: str, growing: bool = False) -> Scene:
    return Scene(before, command, command, growing)


_TIGHTEN = "tighten take.mid --quiet"
SCENES: dict[str, Scene] = {
    "tighten": Scene((), _TIGHTEN, f"{_TIGHTEN} --overwrite", growing=True),
    "tighten, no record": Scene(
        (), f"{_TIGHTEN} --no-record", f"{_TIGHTEN} --no-record --overwrite"
    ),
    "tighten over": _alike(
        (f"{_TIGHTEN} --strength 10",), f"{_TIGHTEN} --overwrite --write-recipe r.toml", True
    ),
    "restore": Scene(
        (_TIGHTEN,),
        "restore take.mid --pass 0 -o again.mid --quiet",
        "restore take.mid --pass 0 -o again.mid --quiet --overwrite",
    ),
    "triggers": Scene(
        (),
        "triggers take.mid -o clean --quiet",
        "triggers take.mid -o clean --quiet --overwrite",
    ),
    "triggers over": _alike(
        ("triggers take.mid -o clean --quiet --floor 20",),
        "triggers take.mid -o clean --quiet --overwrite",
    ),
    "batch": _alike((), "batch in -o out --workers 1"),
    "batch over": _alike(
        ("batch in -o out --workers 1 --strength 10",),
        "batch in -o out --workers 1",
    ),
}


def _run(line: str, folder: Path) -> None:
    with contextlib.chdir(folder):
        ended = promised(line.split())
    expect(not ended.code, ended.err)


def stage(scene: Scene) -> Path:
    """A folder as it is before the command."""
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    (folder / "take.mid").write_bytes(_TAKE)
    (folder / "in").mkdir()
    (folder / "in" / "one.mid").write_bytes(_TAKE)
    (folder / "in" / "other.mid").write_bytes(_OTHER)
    for line in scene.before:
        _run(line, folder)
    return folder


def files_in(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, by its path there."""
    paths = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in paths}


@dataclass(frozen=True)
class Whole:
    """What undisturbed runs leave: before, after the command, and how long it takes."""

    staged: Path
    before: dict[str, bytes]
    after: dict[str, bytes]
    seconds: float
    steps: int


@cache
def whole(name: str) -> Whole:
    """The scene without a killer."""
    scene = SCENES[name]
    os.environ["SOURCE_DATE_EPOCH"] = "1793613600"
    staged = stage(scene)
    atexit.register(shutil.rmtree, staged, ignore_errors=True)
    before = files_in(staged)
    folder = _copy(staged)
    begin = time.monotonic()
    _run(scene.command, folder)
    seconds = time.monotonic() - begin
    after = files_in(folder)
    steps = _count_steps(scene, staged)
    expect(steps > 10, "the command makes no calls that change the disk")
    shutil.rmtree(folder)
    return Whole(staged, before, after, seconds, steps)


def _count_steps(scene: Scene, staged: Path) -> int:
    """How many calls there are before which the command can be killed."""
    folder = _copy(staged)
    ear, mouth = os.pipe()
    child = fork(scene.command, folder, partial(count_calls, CALLS, mouth, opening=True))
    os.close(mouth)
    with os.fdopen(ear, "rb") as told:
        numbers = told.read()
    # Workers go on counting where their command was when it started them.
    steps = 1 + max(int.from_bytes(numbers[at : at + 4], "big") for at in range(0, len(numbers), 4))
    _, status = os.waitpid(child, 0)
    end_group(child)
    expect(os.waitstatus_to_exitcode(status) == 0, "the command itself failed")
    shutil.rmtree(folder)
    return steps


def _in_turn(turn: int, steps: int) -> int:
    """Each step once in as many turns as there are, those of a few turns far apart."""
    stride = next(one for one in range(round(0.618 * steps), steps + 1) if gcd(one, steps) == 1)
    return turn * stride % steps


def _copy(staged: Path) -> Path:
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    shutil.copytree(staged, folder, dirs_exist_ok=True)
    return folder


def fork(line: str, folder: Path, prepare: Callable[[], None]) -> int:
    """Run a command in a process group of its own."""
    child = os.fork()
    if not child:
        code = 99
        try:
            os.setsid()
            os.chdir(folder)
            prepare()
            code = promised(line.split()).code
        except Exception:  # noqa: BLE001 -- told here, since nobody hears it outside
            traceback.print_exc()
        finally:
            os._exit(code)
    return child


def _kill_at(scene: Scene, staged: Path, step: int) -> Path | None:
    """Let the command be killed before a call; the folder it leaves, None if it was not reached."""
    folder = _copy(staged)
    ear, mouth = os.pipe()
    prepare = partial(die_at, step, CALLS, opening=True, last_word=mouth)
    child = fork(scene.command, folder, prepare)
    os.close(mouth)
    _, status = os.waitpid(child, 0)
    end_group(child)
    reached = bool(os.read(ear, 1))
    os.close(ear)
    expect(reached or os.waitstatus_to_exitcode(status) == 0, "the command itself failed")
    if not reached:
        shutil.rmtree(folder)
    return folder if reached else None


def _kill_after(scene: Scene, staged: Path, seconds: float) -> Path:
    """Kill the command at an instant."""
    folder = _copy(staged)
    child = fork(scene.command, folder, lambda: None)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    end_group(child)
    return folder


def end_group(leader: int) -> None:
    """Workers of a command that was killed end by themselves; the next run must not meet them."""
    for _ in range(1000):
        try:
            os.killpg(leader, 0)
        except ProcessLookupError:
            return
        time.sleep(0.01)
    os.killpg(leader, signal.SIGKILL)
    raise AssertionError("a worker outlived its command")


def _is_aside(name: str) -> bool:
    """Whether a file is nobody's result: hidden, or in a hidden folder."""
    return any(part.startswith(".") for part in Path(name).parts)


def check_left(before: dict[str, bytes], after: dict[str, bytes], now: dict[str, bytes]) -> None:
    """What a killed run leaves is whole, file by file, and no log stands beside another's take."""
    for name, data in now.items():
        if _is_aside(name) or name.endswith(("passes.jsonl", ".record.json")):
            continue
        if name.endswith(("batch.csv", "batch.html")):
            # If the one who died was a worker, the batch went on and tells of a take that failed.
            expect(data.endswith((b"\n", b"</html>")), f"{name} is half there")
            continue
        expect(data in (before.get(name), after.get(name)), f"{name} is half there")
    for name in before:
        # A change log is taken away before its take is replaced.
        gone = name not in now and not _is_aside(name) and not name.endswith(".changes.csv")
        expect(not gone or name not in after, f"{name} is gone")
    for name, data in now.items():
        log = name.removesuffix(".mid") + ".changes.csv"
        if name.endswith(".mid") and log in now and before.get(name) != after.get(name):
            side = before if data == before.get(name) else after
            expect(now[log] == side.get(log), f"{log} is of another run than {name}")


def _leftovers(files: dict[str, bytes]) -> list[str]:
    return [
        name
        for name in files
        if name.endswith((".part", ".old")) or ".part/" in name or ".staging/" in name
    ]


def case(seed: int, number: int) -> str:
    """Kill a command, look, and give it once more."""
    names = list(SCENES)
    name, turn = names[number % len(names)], number // len(names)
    scene, sound = SCENES[name], whole(name)
    folder: Path | None = None
    if turn < sound.steps:
        folder = _kill_at(scene, sound.staged, _in_turn(turn, sound.steps))
    if folder is None:
        wait = chance_of(seed, number, "kill").uniform(0, 1.1 * sound.seconds)
        folder = _kill_after(scene, sound.staged, wait)
    try:
        check_left(sound.before, sound.after, files_in(folder))
        _run(scene.again, folder)
        now = files_in(folder)
        expect(not _leftovers(now), f"left behind: {_leftovers(now)}")
        if scene.growing:
            _run("passes take.mid --verify", folder)
            now, after = (
                {one: data for one, data in files.items() if ".passes/" not in one}
                for files in (now, sound.after)
            )
        else:
            after = sound.after
        differ = [one for one in {*now, *after} if now.get(one) != after.get(one)]
        expect(not differ, f"the next run leaves something else: {differ}")
    finally:
        shutil.rmtree(folder)
    return name


if __name__ == "__main__":
    main(case, "Kills at every disk call and at random instants.", 1_000)
