"""Record passes until killed: run as a script, `python -m tests.passes.crash FOLDER HOW COUNT`.

A parent imports everything once, then forks one child after another. Each child records passes in
a loop and is killed with SIGKILL: at a random instant by its parent (HOW = random, COUNT times),
or by itself right before the n-th call that changes the disk (which is right after the one before
it), for every n of one recording (HOW = every). After each death the folder is read and checked;
the parent prints one JSON object with what it saw.
"""

import json
import os
import random
import shutil
import signal
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.crashing import die_at

from evenhand import Recipe, Take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.paper.change_log import change_log
from evenhand.passes.keeping import Draft, record
from evenhand.passes.store import read_history, sha256, stored_input, stored_output

#: Every call through which recording changes what is on disk.
CALLS = ("mkdir", "rename", "replace", "unlink", "rmdir", "truncate", "fsync", "open")

#: So many deaths in the middle of a recording are wanted at least.
LEFT_BEHIND = 6


def draft(number: int) -> Draft:
    """One of a few different passes."""
    source = demo_take()
    result = tighten(Take.from_bytes(source), Recipe(strength=10.0 * (1 + number % 10)))
    return Draft(
        result,
        source,
        result.take.to_bytes(),
        change_log(result.changes),
        "take.mid",
        "take-tight.mid",
        datetime(2026, 11, 2, tzinfo=UTC),
        note=f"pass number {number}",
    )


def check(folder: Path) -> int:
    """Everything that can be read is whole; the number of passes."""
    history = read_history(folder)
    assert history.problems == (), history.problems
    assert [one.number for one in history.passes] == list(range(1, 1 + len(history.passes)))
    for one in history.passes:
        stored_output(history, one), stored_input(history, one)
        for name, sha in one.files.items():
            assert sha256((folder / one.folder / name).read_bytes()) == sha
    return len(history.passes)


def fork(work: Callable[[], Any]) -> int:
    """Do some work in a child."""
    child = os.fork()
    if not child:
        try:
            work()
        finally:
            os._exit(9)
    return child


def slow_disk() -> None:
    """From now on each forcing to the disk takes a millisecond more, as it does on a real one.

    In memory it takes none, so that hardly any death would fall into the middle of a recording.
    """
    force = os.fsync

    def slowly(handle: int) -> None:
        time.sleep(0.001)
        force(handle)

    os.fsync = slowly


def at_random(folder: Path, drafts: list[Draft], count: int) -> dict[str, Any]:
    """Kill `count` children at random instants of an endless loop of recordings.

    How much of a recording's time is spent in its folder differs from disk to disk, so the killing
    goes on until several deaths left something behind, up to ten times `count`.
    """
    chance = random.Random(5)
    slow_disk()
    begin = time.monotonic()
    for one in drafts:
        record(folder, one, lambda: None)
    length = (time.monotonic() - begin) / len(drafts)
    last, half, leftovers, killed = len(drafts), 0, 0, 0

    def loop() -> None:
        for turn in range(10**6):
            record(folder, drafts[turn % len(drafts)], lambda: None)

    while killed < count or (leftovers < LEFT_BEHIND and killed < 10 * count):
        killed += 1
        child = fork(loop)
        time.sleep(chance.uniform(0, 2.5 * length))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        index = folder / "passes.jsonl"
        half += (
            index.exists() and not index.read_bytes().endswith(b"\n") and index.stat().st_size > 0
        )
        leftovers += (folder / ".staging").exists()
        now = check(folder)
        assert now >= last, "a pass was lost"
        last = now
    record(folder, drafts[0], lambda: None)
    assert check(folder) == last + 1
    lines = [json.loads(line) for line in (folder / "passes.jsonl").read_bytes().splitlines()]
    assert [line["pass"] for line in lines] == list(range(1, last + 2))
    return {"killed": killed, "passes": last + 1, "leftovers": leftovers, "half lines": half}


def at_every_call(folder: Path, drafts: list[Draft]) -> dict[str, Any]:
    """Kill a child at each single step of the first, and of a later recording."""
    deaths: dict[str, int] = {}
    for earlier in (0, 1):
        step = 0
        while True:
            shutil.rmtree(folder, ignore_errors=True)
            for turn in range(earlier):
                record(folder, drafts[turn], lambda: None)
            child = fork(lambda step=step: _die_at(step, folder, drafts[3]))
            _, status = os.waitpid(child, 0)
            if not os.WIFSIGNALED(status):
                assert os.WEXITSTATUS(status) == 0, "the recording itself failed"
                break
            there = check(folder) if folder.exists() else 0
            assert there in (earlier, earlier + 1)
            seen = f"{there - earlier} more than {earlier}"
            deaths[seen] = deaths.get(seen, 0) + 1
            record(folder, drafts[4], lambda: None)
            assert check(folder) == there + 1
            step += 1
    return deaths


def _die_at(step: int, folder: Path, one: Draft) -> None:
    """Record, but be killed before the call with this number, counted from 0."""
    die_at(step, CALLS, opening=True)
    record(folder, one, lambda: None)
    os._exit(0)


if __name__ == "__main__":
    where, how, times = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
    several = [draft(number) for number in range(5)]
    seen = at_random(where, several, times) if how == "random" else at_every_call(where, several)
    sys.stdout.write(json.dumps(seen))
