"""Running one function over many items: on the processes of this machine.

`Workers` and `evenhand.jobs.cluster.Cluster` are two of a kind: a batch does not know which
it has. Results come in the order in which they are ready, and only so many items are taken up at
a time that memory does not grow with their number.
"""

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from queue import SimpleQueue
from typing import Protocol, TypeVar

from evenhand.errors import EvenhandError

T = TypeVar("T")
R = TypeVar("R")

#: How many items are on their way for each worker, so that none waits for the next.
AHEAD = 3


class WorkerLostError(EvenhandError):
    """The process that worked on an item died of it."""


class Executor(Protocol):
    """Runs a function over items, somewhere.

    Attributes
    ----------
    shares_disk : bool
        Whether a function that runs there sees the files that are seen here.
    """

    shares_disk: bool

    def run(
        self, function: Callable[[T], R], items: Iterable[T]
    ) -> Iterator[tuple[T, R | BaseException]]:
        """Yield each item with what came of it, or with the error it ended in."""
        ...


class Workers:
    """Processes of this machine.

    Parameters
    ----------
    number : int
        How many, from 1.
    """

    shares_disk = True

    def __init__(self, number: int) -> None:
        self._number = number

    def run(
        self, function: Callable[[T], R], items: Iterable[T]
    ) -> Iterator[tuple[T, R | BaseException]]:
        """Yield each item with what came of it, or with the error it ended in.

        An item whose process dies (by lack of memory, say) is tried once more by itself; the
        others don't notice.
        """
        items = iter(items)
        again: list[T] = []
        alive = True
        while alive:
            alive = False
            for item, result in self._pooled(function, items, self._number * AHEAD):
                if isinstance(result, BrokenProcessPool):
                    again.append(item)
                    alive = True
                else:
                    yield item, result
            while again:
                yield from self._alone(function, again.pop(0))

    def _alone(self, function: Callable[[T], R], item: T) -> Iterator[tuple[T, R | BaseException]]:
        for _, result in self._pooled(function, iter([item]), 1):
            if isinstance(result, BrokenProcessPool):
                lost = WorkerLostError("the process that worked on it died (out of memory?)")
                yield item, lost
            else:
                yield item, result

    def _pooled(
        self, function: Callable[[T], R], items: Iterator[T], ahead: int
    ) -> Iterator[tuple[T, R | BaseException]]:
        """Work through the items until they end, or until a worker dies."""
        pool = ProcessPoolExecutor(min(self._number, ahead), _context(), _settle_in)
        under_way: dict[Future[R], T] = {}
        ready: SimpleQueue[Future[R]] = SimpleQueue()
        try:
            broken = False
            while True:
                if not broken:
                    for item in islice(items, ahead - len(under_way)):
                        try:
                            with _held_back():
                                future = pool.submit(function, item)
                                under_way[future] = item
                                future.add_done_callback(ready.put)
                        except BrokenProcessPool as lost:
                            broken = True
                            yield item, lost
                            break
                if not under_way:
                    return
                # A signal may come here: this waits without a lock that would stay locked.
                done = {ready.get()}
                while not ready.empty():
                    done.add(ready.get())
                # Of several that are ready at once, the first to be taken up comes first.
                for one in [one for one in under_way if one in done]:
                    with _held_back():
                        error = one.exception()
                        result = one.result() if error is None else error
                    broken = broken or isinstance(error, BrokenProcessPool)
                    yield under_way.pop(one), result
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def cores() -> int:
    """How many processes can run at once here."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _context() -> multiprocessing.context.BaseContext:
    """Workers that have all imports from the start where that is sound, else fresh ones."""
    return multiprocessing.get_context("fork" if sys.platform == "linux" else "spawn")


@contextlib.contextmanager
def _held_back() -> Iterator[None]:
    """Hold Ctrl-C and SIGTERM back.

    A process that starts in here never hears Ctrl-C, not even at first; and no lock that is taken
    in here stays locked because its holder was called away.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _settle_in() -> None:
    """What a worker does first: leave Ctrl-C to the one who started it, and end when that ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGTERM})
    parent = multiprocessing.parent_process()
    if parent:
        threading.Thread(target=_end_with, args=(parent.join,), daemon=True).start()


def _end_with(wait_for_end: Callable[[], None]) -> None:
    with contextlib.suppress(OSError):
        wait_for_end()
    os._exit(1)
