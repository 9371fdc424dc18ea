"""A few small takes, and ways to run a batch over them, for the tests of batches."""

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from tests.build import HAT, KICK, SNARE, drum_bytes

from evenhand.errors import EvenhandError
from evenhand.jobs.batch.inputs import find_takes
from evenhand.jobs.batch.order import BatchSettings, Outcome
from evenhand.jobs.batch.run import run_batch

T = TypeVar("T")
R = TypeVar("R")


def small_take(seed: int, bars: int = 4) -> bytes:
    """A few bars of a plain beat at 120 bpm, played loosely."""
    chance = np.random.default_rng(seed)
    notes = []
    for eighth in range(8 * bars):
        tick = 240 * eighth + 240
        pieces = [HAT] + ([KICK] if eighth % 4 == 0 else [SNARE] if eighth % 4 == 2 else [])
        notes += [(tick + int(chance.normal(0, 14)), piece) for piece in pieces]
    return drum_bytes(notes)


def some_takes(folder: Path, count: int = 6, bars: int = 4) -> Path:
    """A folder with takes in it and in folders in it."""
    for number in range(count):
        path = folder / ("monday", "tuesday/late", "")[number % 3] / f"take-{number}.mid"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(small_take(number, bars))
    return folder


class Here:
    """An executor without processes."""

    def __init__(self, shares_disk: bool = True, backwards: bool = False) -> None:
        self.shares_disk = shares_disk
        self._backwards = backwards

    def run(
        self, function: Callable[[T], R], items: Iterable[T]
    ) -> Iterator[tuple[T, R | BaseException]]:
        for item in reversed(list(items)) if self._backwards else items:
            try:
                yield item, function(item)
            except EvenhandError as error:
                yield item, error


def run(takes: Path | str, output: Path, executor: Any = None, **settings: Any) -> list[Outcome]:
    """A whole batch."""
    found = find_takes([str(takes)], output)
    with_all = BatchSettings(output, **settings)
    return list(run_batch(found.takes, with_all, executor or Here(), unreadable=found.unreadable))


def tree(folder: Path) -> dict[str, bytes]:
    """Every file in a folder, by its path."""
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}
