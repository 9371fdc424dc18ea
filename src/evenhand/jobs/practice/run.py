"""Measuring many takes, in this process or in several: the figures are the same."""

import contextlib
import multiprocessing
import multiprocessing.connection
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import partial

from evenhand.errors import DiskError, EvenhandError
from evenhand.jobs.practice.figures import Figures, figures_of
from evenhand.jobs.practice.gather import Found
from evenhand.recipe import Recipe
from evenhand.take.files import read_bytes
from evenhand.take.take import Take

#: Below this many takes other processes cost more time than they save: each needs about as long
#: to start as ten takes of two minutes need to be measured.
_WORTH_IT = 24


@dataclass(frozen=True)
class Played:
    """A practice take with its figures, or the reason why there are none.

    Attributes
    ----------
    found : Found
    figures : Figures, optional
    reason : str
        Empty where there are figures.
    """

    found: Found
    figures: Figures | None
    reason: str = ""


def measure_one(found: Found, recipe: Recipe, width: int) -> Played:
    """Measure one take; what is wrong with it is told, not raised."""
    try:
        data = read_bytes(found.path)
        return Played(found, figures_of(Take.from_bytes(data, found.name), recipe, width))
    except EvenhandError as error:
        reason = str(error)
        for name in (found.name, str(found.path)):
            reason = reason.removeprefix(f"{name}: ").removeprefix(f"{name} ")
        return Played(found, None, reason)
    except MemoryError:
        return Played(found, None, "not enough memory for this file")


def measure_all(
    takes: Sequence[Found],
    recipe: Recipe,
    width: int,
    workers: int = 1,
    tell: Callable[[], None] = lambda: None,
) -> list[Played]:
    """Measure all takes.

    Parameters
    ----------
    takes : sequence of Found
    recipe : Recipe
    width : int
        Width of a tempo group, bpm.
    workers : int
        Processes; the outcome does not depend on them.
    tell : callable
        Called after each take.

    Returns
    -------
    list of Played
        In the order of `takes`.

    Raises
    ------
    DiskError
        If a process dies.
    """
    one = partial(measure_one, recipe=recipe, width=width)
    played = []
    for done in _mapped(one, takes, workers):
        played.append(done)
        tell()
    return played


def _mapped(
    one: Callable[[Found], Played], takes: Sequence[Found], workers: int
) -> Iterator[Played]:
    if workers < 2 or len(takes) < _WORTH_IT:
        yield from map(one, takes)
        return
    start = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(workers, start, _follow_parent)
    chunk = max(1, min(8, len(takes) // (4 * workers)))
    try:
        with _deaf():
            results = pool.map(one, takes, chunksize=chunk)
        yield from results
    except BrokenProcessPool:
        raise DiskError(
            "a process that measures takes has died, perhaps for want of memory; "
            "try again with --workers 1"
        ) from None
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


@contextlib.contextmanager
def _deaf() -> Iterator[None]:
    """Processes that start in here don't hear Ctrl-C: it reaches all, and this one decides."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _follow_parent() -> None:
    """End this process when the one that started it is gone, however that came."""
    parent = multiprocessing.parent_process()

    def watch() -> None:
        if parent:
            multiprocessing.connection.wait([parent.sentinel])
            os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def usual_workers() -> int:
    """As many processes as the machine has cores for us."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
