"""Speed and memory of the main job, as ratios against mido in the same run.

    python tests/benchmarks/bench_foundation.py [FOLDER_OF_TAKES]

Without a folder (or EVENHAND_TAKES) the demo take stands in, forty times.
"""

import io
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import mido

import evenhand
from evenhand.jobs.demo_take import demo_take
from evenhand.paper.change_log import change_log
from evenhand.take.files import write_files

_ROUNDS = 5
_COPIES = 13


def _find_takes(scratch: Path) -> list[Path]:
    folder = sys.argv[1] if len(sys.argv) > 1 else os.environ.get("EVENHAND_TAKES")
    if folder:
        return sorted(Path(folder).glob("*.mid"))
    for number in range(40):
        (scratch / f"demo-{number}.mid").write_bytes(demo_take())
    return sorted(scratch.glob("demo-*.mid"))


def _best(work: Callable[[], object], rounds: int = _ROUNDS) -> float:
    """Shortest of several runs, in seconds."""
    times = []
    for _ in range(rounds):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def _mido_only(takes: list[Path], out: Path) -> None:
    for path in takes:
        mido.MidiFile(path).save(out / path.name)


def _read_only(takes: list[Path]) -> None:
    for path in takes:
        evenhand.read_take(path)


def _whole_job(takes: list[Path], out: Path) -> None:
    for path in takes:
        result = evenhand.tighten(evenhand.read_take(path))
        files = {
            out / path.name: result.take.to_bytes(),
            out / f"{path.stem}.changes.csv": change_log(result.changes),
        }
        write_files(files, overwrite=True)


def _with_summary(takes: list[Path]) -> None:
    for path in takes:
        result = evenhand.tighten(evenhand.read_take(path))
        _ = result.figures, result.flags


def _long_take(scratch: Path) -> Path:
    """An invented take of 28 minutes: the demo take again and again."""
    demo = mido.MidiFile(file=io.BytesIO(demo_take()))
    bars = 58 * 4 * demo.ticks_per_beat
    long = mido.MidiFile(type=1, ticks_per_beat=demo.ticks_per_beat)
    for track in demo.tracks:
        events, now = [], 0
        for message in track:
            now += message.time
            if message.type != "end_of_track":
                events.append((now, message))
        timed = [(tick + copy * bars, one) for copy in range(_COPIES) for tick, one in events]
        messages, now = mido.MidiTrack(), 0
        for tick, message in sorted(timed, key=lambda event: event[0]):
            messages.append(message.copy(time=tick - now))
            now = tick
        long.tracks.append(messages)
    path = scratch / "long.mid"
    long.save(path)
    return path


def _process(*words: str) -> tuple[float, float]:
    """Seconds (best of several) and peak MB of a whole process."""
    seconds = _best(lambda: subprocess.run(words, check=True, stdout=subprocess.DEVNULL))
    script = (
        "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, "
        "stdout=subprocess.DEVNULL); print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    done = subprocess.run([sys.executable, "-c", script, *words], check=True, capture_output=True)
    unit = 1024 if sys.platform != "darwin" else 1024 * 1024
    return seconds, int(done.stdout) / unit


def main() -> None:
    """Measure and print the table."""
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        takes, out = _find_takes(scratch), scratch / "out"
        out.mkdir()
        hits = sum(len(evenhand.read_take(path).hits()) for path in takes)
        base = _best(lambda: _mido_only(takes, out))
        rows = [
            ("mido: load and save (baseline)", base),
            ("evenhand: read", _best(lambda: _read_only(takes))),
            ("evenhand: read, tighten, figures, flags", _best(lambda: _with_summary(takes))),
            ("evenhand: read, tighten, write take and log", _best(lambda: _whole_job(takes, out))),
        ]
        print(f"{len(takes)} takes, {hits} hits, best of {_ROUNDS}\n")
        print("| work | seconds | of the baseline |\n| --- | ---: | ---: |")
        for work, seconds in rows:
            print(f"| {work} | {seconds:.2f} | {seconds / base:.2f} |")
        long = _long_take(scratch)
        found = len(evenhand.read_take(long).hits())
        command = str(Path(sys.executable).with_name("evenhand"))
        print("\n| whole process | seconds | peak MB |\n| --- | ---: | ---: |")
        longest = [(f"tighten, 28 minutes ({found} hits)", long)]
        if len(takes) > 40:
            largest = max(takes, key=lambda path: path.stat().st_size)
            count = len(evenhand.read_take(largest).hits())
            longest.append((f"tighten, the largest take ({count} hits)", largest))
        for label, path in longest:
            target = str(out / "whole.mid")
            seconds, peak = _process(command, "tighten", str(path), "-o", target, "--overwrite")
            print(f"| {label} | {seconds:.2f} | {peak:.0f} |")
        for words in (["--help"], ["tighten", "--help"]):
            seconds, peak = _process(command, *words)
            print(f"| {' '.join(words)} | {seconds:.2f} | {peak:.0f} |")


if __name__ == "__main__":
    main()
