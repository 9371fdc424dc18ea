"""What recording a pass costs, and what comparing costs, as ratios measured in the same run.

    python tests/benchmarks/bench_passes.py [TAKE ...]

Without a take, the demo take stands in. Runs with and without the thing measured alternate; told
are the ratios of the medians and of the shortest runs. Every run writes its outputs to disk (and
sees them there), on the file system of the temporary folder (TMPDIR).
"""

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import evenhand
from evenhand.compare.differences import compare
from evenhand.jobs.demo_take import demo_take
from evenhand.kit.maps import KIT_MAPS

_ROUNDS = 25
_EARLIER = 30


def _times(*works: Callable[[], object], rounds: int = _ROUNDS) -> list[list[float]]:
    """How long each took, in seconds; they take turns."""
    times: list[list[float]] = [[] for _ in works]
    for turn in range(rounds + 1):
        for work, spent in zip(works, times, strict=True):
            begin = time.perf_counter()
            work()
            if turn:
                spent.append(time.perf_counter() - begin)
    return times


def _command(take: Path, out: Path, *words: str) -> Callable[[], object]:
    line = [Path(sys.executable).with_name("evenhand"), "tighten", take, "-o", out, "--overwrite"]
    return lambda: subprocess.run([*line, *words], stdout=subprocess.DEVNULL, check=True)


def _tell(what: str, baseline: list[float], measured: list[float]) -> None:
    (slow, plain), (best, least) = (
        [1000 * of(times) for times in (measured, baseline)] for of in (statistics.median, min)
    )
    sys.stdout.write(
        f"  {what:<42} median {slow:7.1f} ms, without {plain:7.1f} ms: {slow / plain:.2f}; "
        f"shortest {best:7.1f} ms, without {least:7.1f} ms: {best / least:.2f}\n"
    )
    sys.stdout.flush()


def _measure(take: Path, scratch: Path) -> None:
    sys.stdout.write(f"{take.name}, {len(evenhand.read_take(take).hits())} hits\n")
    new, old, none = (scratch / name for name in ("new", "old", "none"))
    for folder in (new, old, none):
        folder.mkdir()
    for _ in range(_EARLIER):
        _command(take, old / "out.mid", "--quiet")()
    plain, first, later = _times(
        _command(take, none / "out.mid", "--no-record"),
        _command(take, new / "out.mid"),
        _command(take, old / "out.mid"),
    )
    _tell("tighten on record", plain, first)
    _tell(f"tighten on record, {_EARLIER} passes already there", plain, later)

    def read() -> None:
        for path in (take, none / "out.mid"):
            evenhand.read_take(path).hits()

    def read_and_compare() -> None:
        takes = [evenhand.read_take(path) for path in (take, none / "out.mid")]
        compare(takes[0], takes[1], KIT_MAPS["ekit"])

    _tell("compare (without: reading both files)", *_times(read, read_and_compare))


def _main() -> None:
    with tempfile.TemporaryDirectory() as name:
        takes = [Path(word) for word in sys.argv[1:]]
        if not takes:
            takes = [Path(name) / "demo.mid"]
            takes[0].write_bytes(demo_take())
        for number, take in enumerate(takes):
            scratch = Path(name) / str(number)
            scratch.mkdir()
            _measure(take, scratch)


if __name__ == "__main__":
    _main()
