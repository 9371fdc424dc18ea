"""Batches against mido alone, how time and memory grow with the takes, and the rate per core.

    python tests/benchmarks/bench_batch.py FOLDER_OF_TAKES [MOST]

First all takes, two workers, everything written, as a whole process, against mido loading and
saving them in one process; the two take turns. Then a quarter, half and all of MOST takes (the
takes again and again under other names), with the largest resident memory of the batch's own
process and of its workers. MOST 0 leaves that out.
"""

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import mido

_ROUNDS = 7
_WORKERS = 2


def _mido_only(takes: list[Path], output: Path) -> float:
    output.mkdir()
    begin = time.perf_counter()
    for path in takes:
        mido.MidiFile(path).save(output / path.name)
    return time.perf_counter() - begin


def _batch(folder: Path, output: Path, watch: "_Watch | None" = None) -> float:
    words = [Path(sys.executable).with_name("evenhand"), "batch", folder, "-o", output, "-q"]
    begin = time.perf_counter()
    process = subprocess.Popen([*words, "--workers", str(_WORKERS)])
    if watch:
        watch.start(process.pid)
    if process.wait():
        raise SystemExit("the batch failed")
    return time.perf_counter() - begin


class _Watch:
    """The largest resident memory of a process, and of those that descend from it, in MB."""

    def __init__(self) -> None:
        self.own = self.workers = 0.0

    def start(self, process: int) -> None:
        threading.Thread(target=self._look, args=(process,), daemon=True).start()

    def _look(self, process: int) -> None:
        while Path(f"/proc/{process}").exists():
            parents = {int(path.name): _parent(path) for path in Path("/proc").glob("[0-9]*")}
            self.own = max(self.own, _peak(process))
            for one in parents:
                above = parents.get(one)
                while above not in (None, 0, process):
                    above = parents.get(above or 0)
                if above == process:
                    self.workers = max(self.workers, _peak(one))
            time.sleep(0.25)


def _parent(path: Path) -> int:
    try:
        return int((path / "stat").read_text().rpartition(")")[2].split()[1])
    except (OSError, ValueError):
        return 0


def _peak(process: int) -> float:
    try:
        status = Path(f"/proc/{process}/status").read_text()
    except OSError:
        return 0.0
    lines = [line for line in status.splitlines() if line.startswith("VmHWM")]
    return int(lines[0].split()[1]) / 1024 if lines else 0.0


def _against_mido(takes: list[Path], scratch: Path) -> None:
    times: tuple[list[float], list[float]] = ([], [])
    for turn in range(_ROUNDS + 1):
        plain = _mido_only(takes, scratch / "mido")
        whole = _batch(takes[0].parent, scratch / "out")
        for name in ("mido", "out"):
            shutil.rmtree(scratch / name)
        if turn:
            times[0].append(plain)
            times[1].append(whole)
    (slow, least), (plain, best) = (
        (statistics.median(each), min(each)) for each in (times[1], times[0])
    )
    sys.stdout.write(
        f"{len(takes)} takes, {_WORKERS} workers: median {slow:.2f} s, mido in one process "
        f"{plain:.2f} s: {slow / plain:.2f}; shortest {least:.2f} s and {best:.2f} s: "
        f"{least / best:.2f}\n"
    )


def _growth(takes: list[Path], most: int, scratch: Path) -> None:
    before = 0.0
    for count in (most // 4, most // 2, most):
        folder, output, watch = scratch / "many", scratch / "many-out", _Watch()
        for number in range(count):
            path = folder / f"{number // len(takes):03d}" / takes[number % len(takes)].name
            path.parent.mkdir(parents=True, exist_ok=True)
            os.link(takes[number % len(takes)], path)
        seconds = _batch(folder, output, watch)
        growth = f", {seconds / before:.2f} times the half" if before else ""
        sys.stdout.write(
            f"{count} takes: {seconds:.1f} s{growth}, {count / seconds / _WORKERS:.1f} takes a "
            f"second and worker; memory {watch.own:.0f} MB, a worker {watch.workers:.0f} MB\n"
        )
        sys.stdout.flush()
        before = seconds
        shutil.rmtree(folder)
        shutil.rmtree(output)


def main() -> None:
    """Measure and tell."""
    most = int(sys.argv[2]) if len(sys.argv) > 2 else 10_000
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        (scratch / "in").mkdir()
        takes = [
            Path(shutil.copy(path, scratch / "in"))
            for path in sorted(Path(sys.argv[1]).glob("*.mid"))
        ]
        _against_mido(takes, scratch)
        if most:
            _growth(takes, most, scratch)


if __name__ == "__main__":
    main()
