"""Time `assess` and `fit` as whole processes on the longest take, against reading it with mido.

python tests/benchmarks/bench_assess.py FOLDER
"""

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import mido


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
    longest = max(folder.glob("*.mid"), key=lambda path: mido.MidiFile(path).length)
    length = mido.MidiFile(longest).length / 60
    command = str(Path(sys.executable).parent / "evenhand")
    with tempfile.TemporaryDirectory() as scratch:
        out = ["-o", f"{scratch}/out.mid", "--overwrite"]
        jobs = {
            "python, import mido, read": [
                sys.executable, "-c", "import mido, sys; mido.MidiFile(sys.argv[1])", str(longest),
            ],
            "evenhand assess": [command, "assess", str(longest)],
            "evenhand fit": [command, "fit", str(longest), *out],
            "evenhand fit --follow": [command, "fit", str(longest), "--follow", *out],
        }  # fmt: skip
        times = {name: _seconds(words) for name, words in jobs.items()}
    baseline = next(iter(times.values()))
    sys.stdout.write(f"a take of {length:.1f} minutes, whole processes, best of three\n")
    for name, seconds in times.items():
        sys.stdout.write(f"{name:26} {seconds:6.2f} s  {seconds / baseline:5.2f} x\n")


if __name__ == "__main__":
    main()
