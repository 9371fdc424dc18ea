"""Time and memory of `evenhand triggers --pulses`, against two baselines of the same run.

    python tests/benchmarks/bench_triggers.py [TAKE]

Baselines: mido reads and saves the take; soundfile writes the same WAV files in blocks of silence.
Without a take the demo stands in, eight times in a row (17 minutes).
"""

import io
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import mido
import numpy as np
import soundfile

from evenhand.jobs.demo_take import demo_take

_ROUNDS = 3
_RATE = 48_000
_BLOCK = 1 << 16


def _long_demo(path: Path) -> Path:
    midi = mido.MidiFile(file=io.BytesIO(demo_take()))
    drums = [message for message in midi.tracks[1] if not message.is_meta]
    midi.tracks[1] = mido.MidiTrack(drums * 8)
    midi.save(path)
    return path


def _best(work: Callable[[Path], object]) -> float:
    """Shortest of several runs, each in a folder of its own, seconds."""
    times = []
    for _ in range(_ROUNDS):
        with tempfile.TemporaryDirectory() as scratch:
            begin = time.perf_counter()
            work(Path(scratch))
            times.append(time.perf_counter() - begin)
    return min(times)


def _triggers(take: Path, folder: Path) -> None:
    code = "from evenhand.__main__ import main; main()"
    command = [sys.executable, "-c", code, "triggers", str(take), "-o", str(folder / "out")]
    subprocess.run([*command, "--pulses", "--quiet"], check=True)


def _silence(folder: Path, files: int, frames: int) -> None:
    block = np.zeros(_BLOCK, np.int32)
    for number in range(files):
        name = folder / f"{number}.wav"
        with soundfile.SoundFile(name, "w", _RATE, 1, "PCM_24") as file:
            for begin in range(0, frames, _BLOCK):
                file.write(block[: frames - begin])
        with name.open("rb") as written:
            os.fsync(written.fileno())


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as scratch:
        take = Path(sys.argv[1]) if len(sys.argv) > 1 else _long_demo(Path(scratch) / "long.mid")
        midi = mido.MidiFile(take)
        minutes, frames = midi.length / 60, round(midi.length * _RATE)
        ours = _best(lambda folder: _triggers(take, folder))
        memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        _triggers(take, Path(scratch))
        waves = len(list((Path(scratch) / "out").glob("*.wav")))
        theirs = _best(lambda folder: mido.MidiFile(take).save(folder / "take.mid"))
        silence = _best(lambda folder: _silence(folder, waves, frames))
    sys.stdout.write(
        f"{minutes:.1f} minutes, {waves} pieces, pulses at {_RATE} Hz\n"
        f"evenhand triggers --pulses  {ours:6.2f} s  {memory:.0f} MB at most\n"
        f"mido reads and saves        {theirs:6.2f} s  (ratio {ours / theirs:.2f})\n"
        f"soundfile writes silence    {silence:6.2f} s  (ratio {ours / silence:.2f})\n"
    )


if __name__ == "__main__":
    main()
