"""A small invented session: bursts of noise that some microphones hear."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import soundfile

from evenhand import Take
from evenhand.jobs.conform.moves import Moves

RATE = 48_000
#: Samples until each microphone hears a hit.
DELAYS = (0, 130, 700)


def moves_of(ms: Sequence[float], shift: Sequence[float], piece: str = "snare") -> Moves:
    """Hits of one piece and how far each moves."""
    count = len(ms)
    return Moves(
        ms=np.array(ms, float),
        shift_ms=np.array(shift, float),
        piece=np.full(count, piece),
        velocity=np.full(count, 100),
        anchor=np.ones(count, np.bool_),
        bar=np.ones(count, np.int64),
        beat=np.arange(count) + 1.0,
    )


def burst(number: int, ring_s: float = 0.08) -> np.ndarray:
    """The sound of a hit: noise that dies away; the same number, the same sound."""
    time = np.arange(int(0.4 * RATE)) / RATE
    noise = np.random.default_rng(number).normal(size=len(time))
    return 0.2 * noise * np.exp(-time / ring_s)


def record(ms: Sequence[float], frames: int, sounds: Sequence[np.ndarray]) -> np.ndarray:
    """What the microphones hear; shape (microphones, frames)."""
    heard = np.zeros((len(DELAYS), frames + RATE))
    for row, delay in enumerate(DELAYS):
        for at, sound in zip(ms, sounds, strict=True):
            begin = round(at * RATE / 1000) + delay
            heard[row, begin : begin + len(sound)] += sound * 0.9**row
    hiss = np.random.default_rng(99).normal(size=heard.shape) * 1e-4
    return (heard + hiss)[:, :frames]


def write(
    folder: Path, heard: np.ndarray, subtype: str = "PCM_24", ending: str = "wav"
) -> list[Path]:
    """One file for each microphone."""
    folder.mkdir(exist_ok=True)
    paths = [folder / f"mic-{row}.{ending}" for row in range(len(heard))]
    for path, one in zip(paths, heard, strict=True):
        soundfile.write(path, one, RATE, subtype)
    return paths


def numbers(path: Path) -> np.ndarray:
    """A file as whole numbers, read by soundfile; shape (frames, channels)."""
    return soundfile.read(path, dtype="int32", always_2d=True)[0]


def save_takes(folder: Path, played: bytes, tight: bytes) -> tuple[Take, Take]:
    """Two takes on disk: `take.mid` and `tight.mid`."""
    (folder / "take.mid").write_bytes(played)
    (folder / "tight.mid").write_bytes(tight)
    return Take.from_bytes(played, "take.mid"), Take.from_bytes(tight, "tight.mid")
