"""Processes: all items once, few at a time, and one that dies takes nobody with it."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.commands import PYTHONPATH
from tests.jobs.batch import chores

from evenhand.errors import DiskError
from evenhand.jobs.workers import AHEAD, WorkerLostError, Workers, cores


def test_every_item_once() -> None:
    results = dict(Workers(2).run(chores.square, range(50)))
    assert results == {number: number**2 for number in range(50)}


def test_no_items() -> None:
    assert list(Workers(2).run(chores.square, [])) == []


def test_items_are_taken_up_as_they_are_needed() -> None:
    taken = []

    def items() -> Iterator[int]:
        for number in range(100):
            taken.append(number)
            yield number

    results = Workers(2).run(chores.square, items())
    for _ in range(10):
        next(results)
    assert len(taken) <= 10 + 2 * AHEAD
    results.close()


def test_errors_belong_to_their_item() -> None:
    results = dict(Workers(2).run(chores.stumble, range(5)))
    assert isinstance(results[1], DiskError)
    assert isinstance(results[3], ZeroDivisionError)
    assert [results[number] for number in (0, 2, 4)] == [0, 2, 4]


def test_a_process_that_dies_takes_only_its_own_item_with_it() -> None:
    results = dict(Workers(2).run(chores.die_of_seven, range(20)))
    assert isinstance(results.pop(7), WorkerLostError)
    assert results == {number: number for number in range(20) if number != 7}


def test_a_process_that_is_killed_once_costs_nothing(tmp_path: Path) -> None:
    items = [(number, str(tmp_path / "killed")) for number in range(20)]
    results = dict(Workers(2).run(chores.die_once, items))
    assert results == {item: item[0] for item in items}


@pytest.mark.parametrize("death", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_workers_end_with_the_one_who_started_them(tmp_path: Path, death: int) -> None:
    script = (
        "import signal, sys; from evenhand.jobs.workers import Workers; "
        "from tests.jobs.batch import chores\n"
        # In the background a shell lets its commands ignore SIGINT, and so would those they start.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "if __name__ == '__main__':\n"
        "    list(Workers(2).run(chores.write_pid, [sys.argv[1] + str(n) for n in range(99)]))\n"
    )
    (tmp_path / "run.py").write_text(script)
    process = subprocess.Popen(
        [sys.executable, tmp_path / "run.py", f"{tmp_path}/pid-"],
        env={**os.environ, "PYTHONPATH": PYTHONPATH},
        stderr=subprocess.DEVNULL,
    )
    _until(lambda: len(list(tmp_path.glob("pid-*"))) >= 2)
    workers = {int(path.read_text() or 0) for path in tmp_path.glob("pid-*")} - {0}
    process.send_signal(death)
    process.wait()
    assert len(list(tmp_path.glob("pid-*"))) < 99, "it was not ended, it was done"
    _until(lambda: not any(_lives(worker) for worker in workers))


def test_a_signal_that_comes_where_a_lock_is_taken_leaves_none_behind() -> None:
    """Or the end would wait for it for ever: nobody who holds a lock is called away."""
    script = (
        "import concurrent.futures._base as futures, signal, threading\n"
        "from evenhand.jobs.workers import Workers\n"
        "from tests.jobs.batch import chores\n"
        "class Ended(Exception): pass\n"
        "def end(*_): raise Ended\n"
        "signal.signal(signal.SIGTERM, end)\n"
        "left, me = 0, threading.get_ident()\n"
        "def taken():\n"
        "    global left\n"
        "    if threading.get_ident() == me:\n"
        "        left -= 1\n"
        "        if not left: signal.raise_signal(signal.SIGTERM)\n"
        "for kind in (threading.Condition, futures._AcquireFutures):\n"
        "    def enter(self, real=kind.__enter__):\n"
        "        got = real(self)\n"
        "        taken()\n"
        "        return got\n"
        "    kind.__enter__ = enter\n"
        "for turn in range(1, 40, 2):\n"
        "    left = turn\n"
        "    try:\n"
        "        for _ in Workers(2).run(chores.square, range(10**6)): pass\n"
        "    except Ended: print('ended')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([PYTHONPATH, *sys.path])},
        capture_output=True, text=True, check=True, timeout=30,
    )  # fmt: skip
    assert done.stdout.split() == ["ended"] * 20


def _until(condition, seconds: float = 20.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.02)


def _lives(process: int) -> bool:
    """Whether a process is there, and not only its exit code for a parent that never asks."""
    try:
        return "\nState:\tZ" not in Path(f"/proc/{process}/status").read_text()
    except (FileNotFoundError, ProcessLookupError):
        return False


def test_cores() -> None:
    assert 1 <= cores() <= (os.cpu_count() or 1)
