"""Time `practice` as a whole process on a folder of takes, against reading them with mido.

python tests/benchmarks/bench_practice.py FOLDER
"""

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

_MIDO = "import mido, sys\nfor path in sys.argv[1:]: mido.MidiFile(path)"


def _seconds(words: list[str]) -> float:
    best = float("inf")
    for _ in range(3):
        begin = time.perf_counter()
        subprocess.run(words, check=True, capture_output=True)
        best = min(best, time.perf_counter() - begin)
    return best


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folder", type=Path)
    folder = options.parse_args().folder
    paths = sorted(map(str, folder.glob("*.mid")))
    command = str(Path(sys.executable).parent / "evenhand")
    with tempfile.TemporaryDirectory() as scratch:
        practice = [command, "practice", str(folder), "-o", f"{scratch}/out", "--overwrite"]
        jobs = {
            "mido reads them": [sys.executable, "-c", _MIDO, *paths],
            "practice --workers 1": [*practice, "--workers", "1"],
            "practice --workers 2": [*practice, "--workers", "2"],
        }
        times = {name: _seconds(words) for name, words in jobs.items()}
    baseline = next(iter(times.values()))
    sys.stdout.write(f"{len(paths)} takes, whole processes, best of three\n")
    for name, seconds in times.items():
        sys.stdout.write(
            f"{name:21} {seconds:6.2f} s  {seconds / baseline:5.2f} x  "
            f"{1000 * seconds / len(paths):6.1f} ms a take\n"
        )


if __name__ == "__main__":
    main()
