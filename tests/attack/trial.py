"""What all attacks share: numbered cases of a seed, what counts as a fault, how it is told.

Each case follows from its seed and its number alone, so that one can be tried again by itself:
`python -m tests.attack.takes --seed 5 --only 1234`.
"""

import argparse
import json
import random
import resource
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TypeVar

#: Tries the case of a seed with a number and says how it ended; raises where evenhand broke.
Case = Callable[[int, int], str]

T = TypeVar("T")

#: How many cases a process takes up at a time.
_PORTION = 200

#: What an attack itself may take, bytes of address space.
_MOST_MEMORY = 3 * 2**30


class BrokenPromiseError(AssertionError):
    """evenhand did what it promises not to do."""


@dataclass
class Tally:
    """How the cases ended.

    Attributes
    ----------
    fates : Counter of str
    faults : list of str
        What broke, with the number of the case.
    slowest, largest : tuple of float and int
        The most processor time of a case, s, and the most memory, MB, with its number.
    """

    fates: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    slowest: tuple[float, int] = (0.0, -1)
    largest: tuple[float, int] = (0.0, -1)

    def add(self, other: "Tally") -> None:
        """Take over what another has counted."""
        self.fates += other.fates
        self.faults += other.faults
        self.slowest = max(self.slowest, other.slowest)
        self.largest = max(self.largest, other.largest)


def chance_of(seed: int, number: int, what: str = "") -> random.Random:
    """The dice of one case."""
    return random.Random(f"{what} {seed} {number}")


def expect(holds: object, otherwise: str) -> None:
    """Break off the case where a promise does not hold."""
    if not holds:
        raise BrokenPromiseError(otherwise)


def attack(case: Case, seed: int, numbers: range) -> Tally:
    """Try some cases, one after another, in this process."""
    tally = Tally()
    for number in numbers:
        _measured.clear()
        try:
            tally.fates[case(seed, number)] += 1
        except Exception as error:  # noqa: BLE001 -- any error at all is what is looked for
            last = traceback.extract_tb(error.__traceback__)[-1]
            where = f"{Path(last.filename).name}:{last.lineno}"
            tally.faults.append(f"case {number}: {type(error).__name__}: {error} ({where})")
        for spent, taken in _measured:
            tally.slowest = max(tally.slowest, (spent, number))
            tally.largest = max(tally.largest, (taken, number))
    return tally


#: Processor time, s, and memory, MB, of the jobs of a case.
_measured: list[tuple[float, float]] = []


def _forget_peak() -> int:
    """Let the peak of this process's memory begin anew; what it is now, bytes (Linux: proc(5))."""
    try:
        Path("/proc/self/clear_refs").write_text("5")
    except OSError:
        return 0
    return peak_memory()


def peak_memory() -> int:
    """The most memory that this process has had, bytes."""
    try:
        for line in Path("/proc/self/status").read_text().splitlines():
            if line.startswith("VmHWM:"):
                return 1024 * int(line.split()[1])
    except OSError:
        pass
    return 1024 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def bounded(seconds: float, megabytes: float, what: str, job: Callable[[], T]) -> T:
    """Do something; break off where it takes more processor time or memory than it may.

    What takes too long is done again, up to twice, and the shortest time counts: on a busy machine
    the same work takes up to twice its time.
    """
    before, begin = _forget_peak(), time.process_time()
    done = job()
    spent, taken = time.process_time() - begin, (peak_memory() - before) / 1e6
    for _ in range(2):
        if spent > seconds:
            begin = time.process_time()
            job()
            spent = min(spent, time.process_time() - begin)
    _measured.append((spent, taken))
    expect(spent <= seconds, f"{what}: {spent:.2f} s of processor time, at most {seconds:g}")
    expect(taken <= megabytes, f"{what}: {taken:.0f} MB, at most {megabytes:.0f}")
    return done


def _limit_memory() -> None:
    """Let what would eat the machine end in a MemoryError instead."""
    resource.setrlimit(resource.RLIMIT_AS, (_MOST_MEMORY, _MOST_MEMORY))


def in_parts(case: Case, seed: int, count: int, workers: int, first: int = 0) -> Iterator[Tally]:
    """Try many cases on several processes; a tally for each portion."""
    portions = [
        range(begin, min(begin + _PORTION, first + count))
        for begin in range(first, first + count, _PORTION)
    ]
    if workers == 1:
        yield from (attack(case, seed, portion) for portion in portions)
        return
    with ProcessPoolExecutor(workers, initializer=_limit_memory) as pool:
        yield from pool.map(partial(attack, case, seed), portions)


def main(case: Case, about: str, count: int) -> None:
    """Run an attack as a script: `--seed 1 --count 200000 --workers 2`."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=count)
    parser.add_argument("--first", type=int, default=0, help="the number to begin with")
    parser.add_argument("--only", type=int, help="try this one and let its error out")
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    _limit_memory()
    if given.only is not None:
        begin = time.process_time()
        fate = case(given.seed, given.only)
        sys.stdout.write(f"{fate} in {time.process_time() - begin:.2f} s\n")
        return
    begin, tally = time.monotonic(), Tally()
    for part in in_parts(case, given.seed, given.count, given.workers, given.first):
        tally.add(part)
        for fault in part.faults:
            sys.stderr.write(fault + "\n")
            sys.stderr.flush()
    told = {
        "cases": sum(tally.fates.values()) + len(tally.faults),
        "faults": len(tally.faults),
        "fates": dict(sorted(tally.fates.items())),
        "slowest_s": round(tally.slowest[0], 2),
        "slowest_case": tally.slowest[1],
        "largest_mb": round(tally.largest[0], 1),
        "largest_case": tally.largest[1],
        "minutes": round((time.monotonic() - begin) / 60, 1),
    }
    sys.stdout.write(json.dumps(told) + "\n")
    sys.exit(bool(tally.faults))
