"""A folder under watch: what arrives is tightened, with the record and the tables of a batch."""

import threading
import time
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from evenhand.errors import DiskError
from evenhand.jobs.batch import (
    AS_BEFORE,
    FAILED,
    BatchSettings,
    Outcome,
    Source,
    find_takes,
    run_batch,
)
from evenhand.jobs.watch.arrivals import Arrivals
from evenhand.jobs.workers import Executor
from evenhand.passes import clean

# How often the folder is looked at while a file waits to be still, ms; and without any sign of a
# change, s, because a system may lose one.
_LOOK_MS, _IDLE_S = 250, 30.0


@dataclass(frozen=True)
class Arrived:
    """A take that has arrived, and what came of it."""

    outcome: Outcome


@dataclass(frozen=True)
class Waits:
    """A file that doesn't read whole; it is looked at again when it changes."""

    source: Source
    reason: str


def watch(
    folder: Path,
    settings: BatchSettings,
    executor: Executor,
    wakes: Iterable[bool],
    clock: Callable[[], float] = time.monotonic,
) -> Generator[Arrived | Waits, None, None]:
    """Tighten what arrives in a folder, and in those in it, each take once.

    What an earlier run has done, and is as it was, is not done again (nor told); a take that is
    recorded anew under the same name is.

    Parameters
    ----------
    folder : Path
    settings : BatchSettings
        Of the batch; its folder may lie in `folder`.
    executor : Executor
    wakes : iterable of bool
        Each item is a time to look: whether something has changed; see `wake_ups`.
    clock : callable
        Seconds; only goes forward.

    Raises
    ------
    DiskError
        If the folder has gone, or results can't be written.
    """
    arrivals = Arrivals()
    looked = -_IDLE_S
    for changed in wakes:
        now = clock()
        if not (changed or arrivals.waiting or now - looked >= _IDLE_S):
            continue
        looked = now
        if not folder.is_dir():
            raise DiskError(f"{folder} is no longer there; start again when it is")
        found = find_takes([str(folder)], settings.folder)
        new, broken = arrivals.look(found.takes, now)
        for source, reason in sorted(broken.items()):
            yield Waits(source, reason)
        if new:
            yield from _do(set(new), arrivals, settings, executor)


def _do(
    new: set[Source], arrivals: Arrivals, settings: BatchSettings, executor: Executor
) -> Iterator[Arrived]:
    """A batch over all that has arrived: what is done already only takes its row in the tables."""
    sources = {clean(one.name): one for one in arrivals.arrived}
    for outcome in run_batch(arrivals.arrived, settings, executor):
        one = sources.get(str(outcome.row["take"]))
        if one not in new or outcome.state == AS_BEFORE:
            continue
        if outcome.state == FAILED and one and arrivals.changed(one):
            # It was written to once more while it was read: it arrives later.
            continue
        yield Arrived(outcome)


def wake_ups(folder: Path, stop: threading.Event | None = None) -> Iterator[bool]:
    """A time to look whenever something changes in a folder, and a few times a second besides.

    Parameters
    ----------
    folder : Path
    stop : threading.Event, optional
        Ends it.

    Raises
    ------
    KeyboardInterrupt
        On Ctrl-C.
    """
    from watchfiles import watch as changes

    # The first look is at what is there already.
    yield True
    for seen in changes(
        folder,
        watch_filter=None,
        debounce=2 * _LOOK_MS,
        step=50,
        stop_event=stop,
        rust_timeout=_LOOK_MS,
        yield_on_timeout=True,
    ):
        yield bool(seen)
