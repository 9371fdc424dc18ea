"""Time and memory of `evenhand conform`: twelve 24-bit files at 48 kHz.

    python -m tests.benchmarks.bench_conform [MINUTES]

The demo take and its invented microphones, again and again, for five minutes if nothing is said.
Baseline: the same files copied and flushed to the same disk.
"""

import io
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import mido
import soundfile
from tests.evaluation.microphones import NAMES, label_hits, record

from evenhand.jobs.demo_take import demo_take
from evenhand.take import Take

_RATE = 48_000


def _long_take(path: Path, minutes: float) -> tuple[float, int]:
    """The demo again and again; how long one round is, in seconds, and how many there are."""
    midi = mido.MidiFile(file=io.BytesIO(demo_take()))
    drums = [message for message in midi.tracks[1] if not message.is_meta]
    seconds = mido.tick2second(
        sum(message.time for message in drums),
        midi.ticks_per_beat,
        Take.from_bytes(demo_take(), "").tempo.tempo[0],
    )
    rounds = max(1, round(minutes * 60 / seconds))
    midi.tracks[1] = mido.MidiTrack(drums * rounds)
    midi.save(path)
    return seconds, rounds


def _make_files(folder: Path, seconds: float, rounds: int) -> list[Path]:
    hits = label_hits(Take.from_bytes(demo_take(), "demo"))
    sound = record(hits, hits.ms, 5, _RATE, int(seconds * _RATE) + 1)
    paths = []
    for name, one in zip(NAMES, sound, strict=True):
        paths.append(folder / f"{name}.wav")
        with soundfile.SoundFile(paths[-1], "w", _RATE, 1, "PCM_24") as file:
            for turn in range(rounds):
                begin, end = (round(at * seconds * _RATE) for at in (turn, turn + 1))
                file.write(one[: end - begin])
    return paths


#: Runs the command and says what it took: its own peak of memory (Linux: VmHWM) and CPU time.
_WATCHED = """
import resource, sys
from evenhand.cli.app import app
try:
    app()
except SystemExit as end:
    if end.code:
        raise
used = resource.getrusage(resource.RUSAGE_SELF)
with open("/proc/self/status") as status:
    peak = next(line for line in status if line.startswith("VmHWM")).split()[1]
sys.stderr.write(f"{int(peak) / 1024} {used.ru_utime + used.ru_stime}")
"""


def _conform(take: Path, paths: list[Path], folder: Path) -> tuple[float, float, float]:
    """Seconds, MB at most, seconds of CPU."""
    command = [sys.executable, "-c", _WATCHED, "conform", str(take), *map(str, paths)]
    command += ["--to", str(folder / "tight.mid"), "-o", str(folder / "out"), "-q"]
    begin = time.perf_counter()
    done = subprocess.run(command, check=True, stderr=subprocess.PIPE, text=True)
    seconds = time.perf_counter() - begin
    memory, busy = map(float, done.stderr.split())
    return seconds, memory, busy


def _copy(paths: list[Path], folder: Path) -> None:
    folder.mkdir()
    for path in paths:
        shutil.copyfile(path, folder / path.name)
        with (folder / path.name).open("rb") as file:
            os.fsync(file.fileno())


def main() -> None:
    """Print the figures."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 5.0
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        take = folder / "take.mid"
        seconds, rounds = _long_take(take, minutes)
        paths = _make_files(folder, seconds, rounds)
        tight = [sys.executable, "-c", "from evenhand.cli.app import main; main()", "tighten"]
        # The demo repeated has a rest of a bar at each join, which is another tempo to the hits.
        options = ["--window", "6", "--strength", "100", "--tempo-as-filed", "--no-record", "-q"]
        subprocess.run([*tight, str(take), "-o", str(folder / "tight.mid"), *options], check=True)
        ours, memory, busy = _conform(take, paths, folder)
        splices = len((folder / "out" / "edits.csv").read_text().splitlines()) - 1
        shutil.rmtree(folder / "out")
        begin = time.perf_counter()
        _copy(paths, folder / "copy")
        copied = time.perf_counter() - begin
    length = seconds * rounds
    sys.stdout.write(
        f"{len(paths)} files of {length / 60:.1f} minutes, {splices} splices\n"
        f"evenhand conform  {ours:7.2f} s  {length / ours:5.1f} x real time  "
        f"{memory:.0f} MB at most, {busy:.1f} s of CPU\n"
        f"copying alone     {copied:7.2f} s  {length / copied:5.1f} x real time\n"
    )


if __name__ == "__main__":
    main()
