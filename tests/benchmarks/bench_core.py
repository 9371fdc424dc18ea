"""The whole job beside mido's bare load and save, in processor time.

    python -m tests.benchmarks.bench_core FOLDER_OF_TAKES [--every 4] [--rounds 5]

Prints, for the same takes in the same run, the shortest of several rounds of: mido's load and
save; read, tighten, write take and change log; the same with figures and flags; the same job by
the steps of the first edition. They take turns, so that a busy computer slows all alike.
"""

import argparse
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import mido

import evenhand
from evenhand import Recipe
from evenhand.paper.change_log import change_log
from evenhand.take.files import write_files

#: The settings of the first edition, where they differ: what the benchmark of the house names.
FIRST = Recipe(
    window="auto", reach=40.0, lean=50.0, habit=0.0, most="off", carry="together", plan="hits",
    tempo_as_filed="on",
)  # fmt: skip


def _by_mido(path: Path, out: Path) -> None:
    mido.MidiFile(path).save(out / path.name)


def _whole_job(path: Path, out: Path, flags: bool = False, recipe: Recipe | None = None) -> None:
    result = evenhand.tighten(evenhand.read_take(path), recipe)
    if flags:
        _ = result.figures, result.flags
    files = {
        out / path.name: result.take.to_bytes(),
        out / f"{path.stem}.changes.csv": change_log(result.changes),
    }
    write_files(files, overwrite=True)


def _with_flags(path: Path, out: Path) -> None:
    _whole_job(path, out, flags=True)


def _first_edition(path: Path, out: Path) -> None:
    _whole_job(path, out, recipe=FIRST)


WORKS: dict[str, Callable[[Path, Path], None]] = {
    "mido: load and save": _by_mido,
    "evenhand: read, tighten, write take and log": _whole_job,
    "the same, with figures and flags": _with_flags,
    "the same job, first edition": _first_edition,
}


def measure(takes: list[Path], rounds: int) -> dict[str, float]:
    """Shortest processor time of each work over all takes, in seconds."""
    best = dict.fromkeys(WORKS, float("inf"))
    with tempfile.TemporaryDirectory() as scratch:
        for _ in range(rounds):
            for name, work in WORKS.items():
                begin = time.process_time()
                for path in takes:
                    work(path, Path(scratch))
                best[name] = min(best[name], time.process_time() - begin)
    return best


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--every", type=int, default=1, help="only every so many-th take")
    parser.add_argument("--rounds", type=int, default=5)
    told = parser.parse_args()
    takes = sorted(told.folder.glob("*.mid"))[:: told.every]
    hits = sum(len(evenhand.read_take(path).hits()) for path in takes)
    best = measure(takes, told.rounds)
    base = best["mido: load and save"]
    print(f"{len(takes)} takes, {hits} hits, best of {told.rounds}, processor time\n")
    print("| work | seconds | of mido |\n| --- | ---: | ---: |")
    for name, seconds in best.items():
        print(f"| {name} | {seconds:.3f} | {seconds / base:.3f} |")


if __name__ == "__main__":
    main()
