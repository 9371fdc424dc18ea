"""The racer: `python -m tests.attack.races --seed 1 --count 300 --workers 2`.

Several commands at once on one take, and somebody who puts links and pipes where results go while
they run. Whatever wins: files are whole, a log stands beside its own take, the record holds,
nothing outside is touched.
"""

import atexit
import contextlib
import os
import random
import shutil
import signal
import tempfile
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path

from tests.attack.inside import promised, scratch_root
from tests.attack.kills import SCENES, end_group, files_in, fork, stage
from tests.attack.trial import chance_of, expect, main

_STRENGTHS = (10, 40, 70, 100)
_OUTSIDE = b"not yours\n"
_TIGHTEN = "tighten take.mid --quiet --window 0 --strength {strength}"


@cache
def _staged() -> Path:
    os.environ["SOURCE_DATE_EPOCH"] = "1793613600"
    folder = stage(SCENES["tighten"])
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    (folder / "outside.txt").write_bytes(_OUTSIDE)
    return folder


def _copy() -> Path:
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    shutil.copytree(_staged(), folder, dirs_exist_ok=True)
    return folder


@cache
def _pairs() -> dict[bytes, bytes]:
    """The log that belongs to each take."""
    pairs = {}
    folder = _copy()
    with contextlib.chdir(folder):
        for strength in _STRENGTHS:
            line = _TIGHTEN.format(strength=strength) + " --no-record --overwrite"
            expect(not promised(line.split()).code, line)
            pairs[Path("take-tight.mid").read_bytes()] = Path("take-tight.changes.csv").read_bytes()
    shutil.rmtree(folder)
    expect(len(pairs) == len(_STRENGTHS), "the runs give different takes")
    return pairs


def _all_at_once(lines: list[str], folder: Path, meanwhile: Callable[[], None]) -> list[int]:
    """Exit codes of commands that run at the same time."""
    children = [fork(line, folder, lambda: None) for line in lines]
    codes: dict[int, int] = {}
    end = time.monotonic() + 60
    while len(codes) < len(children):
        meanwhile()
        for child in set(children) - set(codes):
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                codes[child] = os.waitstatus_to_exitcode(status)
        if time.monotonic() > end:
            for child in set(children) - set(codes):
                os.killpg(child, signal.SIGKILL)
            raise TimeoutError("a command hangs")
    for child in children:
        end_group(child)
    return [codes[child] for child in children]


def _check_pair(folder: Path) -> None:
    take, log = (folder / f"take-tight.{suffix}" for suffix in ("mid", "changes.csv"))
    expect(_pairs()[take.read_bytes()] == log.read_bytes(), "the log is of another run")


def _check_record(folder: Path, passes: int) -> None:
    with contextlib.chdir(folder):
        expect(not promised(["passes", "take.mid", "--verify"]).code, "the record does not hold")
    there = [path for path in (folder / "take.passes").iterdir() if path.name.isdigit()]
    expect(len(there) == passes, f"{len(there)} passes on record, not {passes}")


def _same_name(chance: random.Random, folder: Path) -> str:
    """Only one may write to a name that was free."""
    lines = [_TIGHTEN.format(strength=one) for one in _STRENGTHS[: chance.randint(2, 4)]]
    codes = _all_at_once(lines, folder, lambda: time.sleep(0.001))
    expect(sorted(codes) == [0] + [1] * (len(lines) - 1), f"exit codes {codes}")
    _check_pair(folder)
    _check_record(folder, 1)
    return "one name"


def _overwriting(chance: random.Random, folder: Path) -> str:
    """All may write; what is left is of one run."""
    record = chance.random() < 0.5
    more = " --overwrite" + ("" if record else " --no-record")
    lines = [_TIGHTEN.format(strength=one) + more for one in _STRENGTHS]
    codes = _all_at_once(lines, folder, lambda: time.sleep(0.001))
    expect(set(codes) == {0}, f"exit codes {codes}")
    _check_pair(folder)
    if record:
        _check_record(folder, len(lines))
    return "overwriting"


def _batches(chance: random.Random, folder: Path) -> str:
    line = "batch in -o out --workers 1"
    codes = _all_at_once([line] * chance.randint(2, 3), folder, lambda: time.sleep(0.001))
    expect(0 in codes and set(codes) <= {0, 1}, f"exit codes {codes}")
    with contextlib.chdir(folder):
        expect(not promised(line.split()).code, "the next batch fails")
        names = {"batch.csv", "batch.html"}
        names |= {f"{one}-tight.{what}" for one in ("one", "other") for what in _RESULTS}
        expect(set(files_in(folder / "out")) - {".batch/.lock"} == names, "files are missing")
    return "batches"


_RESULTS = ("mid", "changes.csv", "record.json")


def _links(chance: random.Random, folder: Path) -> str:
    """Links to a file outside, pipes and folders come and go where results go."""
    names = ["take-tight.mid", "take-tight.changes.csv", "take.passes/passes.jsonl"]
    names += ["take.passes/.staging", "take.passes/.lock", "take.passes", "take.passes/originals"]
    names += [".take-tight.mid.part", "out/one-tight.mid", "out/one-tight.record.json"]
    name = chance.choice(names)
    # A folder of passes may be a link to another folder; what is in it may not.
    kinds = (0, 2, 3) if name == "take.passes" else (0, 1, 2, 3)
    path, hidden = folder / name, folder / "hidden"

    def meanwhile() -> None:
        with contextlib.suppress(OSError):
            if path.is_symlink() or path.is_fifo():
                path.unlink()
            elif path.exists() and chance.random() < 0.3:
                shutil.rmtree(hidden, ignore_errors=True)
                path.rename(hidden)
        with contextlib.suppress(OSError):
            how = chance.choice(kinds)
            path.parent.mkdir(exist_ok=True)
            if how == 0:
                path.symlink_to(folder / "outside.txt")
            elif how == 1:
                path.symlink_to(folder / "elsewhere")
            elif how == 2:
                os.mkfifo(path)
        time.sleep(chance.uniform(0, 0.003))

    lines = [_TIGHTEN.format(strength=40), "batch in -o out --workers 1"]
    if chance.random() < 0.5:
        lines[0] += " --overwrite"
    (folder / "elsewhere").mkdir()
    codes = _all_at_once(lines, folder, meanwhile)
    expect(set(codes) <= {0, 1}, f"exit codes {codes}")
    expect((folder / "outside.txt").read_bytes() == _OUTSIDE, f"{name}: a file outside is changed")
    expect(not list((folder / "elsewhere").iterdir()), f"{name}: files in a folder outside")
    return "links"


_RACES = (_same_name, _overwriting, _batches, _links, _links)


def case(seed: int, number: int) -> str:
    """Run a race."""
    _pairs()
    folder = _copy()
    try:
        return _RACES[number % len(_RACES)](chance_of(seed, number, "race"), folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main(case, "Commands at once, and links under their hands.", 300)
