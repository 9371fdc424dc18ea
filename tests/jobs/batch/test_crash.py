"""Killed at any instant, a batch goes on, and ends with what an undisturbed one leaves."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.commands import PYTHONPATH
from tests.crashing import die_at
from tests.jobs.batch import crash
from tests.jobs.batch.few import run, some_takes, tree
from tests.lengths import LONG

from evenhand import Recipe
from evenhand.jobs.batch import one, order
from evenhand.jobs.batch.one import Made, Task
from evenhand.jobs.batch.record import RecordKey

#: Every call through which a batch changes what is on disk.
_CALLS = ("mkdir", "rename", "replace", "unlink", "rmdir", "fsync", "link")


@pytest.fixture
def takes(tmp_path: Path) -> Path:
    return some_takes(tmp_path / "in", 2, bars=2)


@pytest.fixture
def remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is made of a take, without touching a disk, is made once; children have it too."""
    made: dict[RecordKey, Made] = {}

    def make(task: Task) -> Made:
        if task.key not in made:
            made[task.key] = one.make(task)
        return made[task.key]

    monkeypatch.setattr(order, "make", make)


def _child(work: Callable[[], object]) -> int:
    """Do something in a process of its own; its number."""
    child = os.fork()
    if not child:
        try:
            work()
        finally:
            os._exit(0)
    return child


def _was_killed(child: int) -> bool:
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


@pytest.mark.apart
def test_at_random_instants(takes: Path, tmp_path: Path) -> None:
    begin = time.perf_counter()
    run(takes, tmp_path / "whole")
    lasts = time.perf_counter() - begin
    whole, chance, killed = tree(tmp_path / "whole"), random.Random(8), 0
    while killed < 12:
        child = _child(lambda: run(takes, tmp_path / "out"))
        time.sleep(chance.uniform(0, lasts))
        os.kill(child, signal.SIGKILL)
        killed += _was_killed(child)
        run(takes, tmp_path / "out")
        assert tree(tmp_path / "out") == whole
        shutil.rmtree(tmp_path / "out")


@pytest.mark.parametrize(
    ("before", "then"), [(None, 30), (60, 30), (60, 90)], ids=["fresh", "replacing", "third"]
)
@pytest.mark.usefixtures("remembered")
def test_before_every_change_of_the_disk(
    takes: Path, tmp_path: Path, before: float | None, then: float
) -> None:
    """Also where earlier results are being replaced, and where it goes on with a third recipe."""
    out = tmp_path / "out"
    run(takes, tmp_path / "remembered", recipe=Recipe(strength=30))
    run(takes, tmp_path / "whole", recipe=Recipe(strength=then))
    if before is not None:
        run(takes, tmp_path / "before", recipe=Recipe(strength=before))
    whole, step = tree(tmp_path / "whole"), 0
    while True:
        if before is not None:
            shutil.copytree(tmp_path / "before", out)

        def work(step: int = step) -> None:
            die_at(step, _CALLS)
            run(takes, out, recipe=Recipe(strength=30))

        died = _was_killed(_child(work))
        outcomes = run(takes, out, recipe=Recipe(strength=then))
        assert not [outcome.row for outcome in outcomes if outcome.state == "failed"]
        assert tree(out) == whole, step
        shutil.rmtree(out)
        if not died:
            break
        step += 1
    # Two takes, each with three files that are forced to the disk and renamed.
    assert step > 2 * 6


@pytest.mark.apart
def test_the_command_with_its_workers(takes: Path, tmp_path: Path) -> None:
    times = 2 if LONG else 1
    done = subprocess.run(
        [sys.executable, crash.__file__, str(takes), str(tmp_path), str(times)],
        capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": PYTHONPATH},
    )  # fmt: skip
    seen = json.loads(done.stdout)
    assert (seen["killed"], seen["differ"], seen["files"]) == (times, 0, 8)
