"""Twelve microphones around an invented kit: stems with delays, bleed, two rooms and noise.

Everything is made from the sound bank and a number, so the same hits at other times give the
recording that a tighter drummer would have left: the truth that conforming is held against.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.signal import fftconvolve

from evenhand import Recipe
from evenhand.columns import Floats
from evenhand.kit import label, load_kit
from evenhand.sound import load_samples, score_of
from evenhand.sound.mixing import Mix
from evenhand.take import Hits, Take

#: What each microphone hears best; the rest of the kit bleeds into it.
CLOSE = ("kick", "kick", "snare", "snare", "hat", "tom", "tom", "ride")
NAMES = (
    "kick-in", "kick-out", "snare-top", "snare-under", "hat", "tom-high", "tom-low", "ride",
    "over-left", "over-right", "room", "hall",
)  # fmt: skip
#: Seconds until the two rooms have fallen by 60 dB, their share, and bleed and noise in dB.
_ROOMS_S, _BLEED_DB, _NOISE_DB = (0.35, 0.9), (-34.0, -18.0), -72.0


@dataclass(frozen=True, eq=False)
class Kit:
    """How the microphones stand.

    Attributes
    ----------
    delay : int64 array, shape (12, sources)
        Samples that each source takes to each microphone.
    gain : float64 array, shape (12, sources)
    rooms : tuple of two float32 arrays
        Impulse responses.
    """

    delay: np.ndarray
    gain: np.ndarray
    rooms: tuple[np.ndarray, np.ndarray]


def label_hits(take: Take) -> Hits:
    """The drum hits of a take with their pieces."""
    return label(take.hits(), load_kit("ekit"), Recipe().anchor)[0]


def place_kit(sources: list[str], number: int, rate: int) -> Kit:
    """Delays of 0 to 20 ms, bleed and rooms that a number decides."""
    random = np.random.default_rng(number)
    count = len(NAMES)
    delay = np.zeros((count, len(sources)))
    gain = np.zeros((count, len(sources)))
    for mic in range(count):
        for index, source in enumerate(sources):
            if mic < len(CLOSE):
                own = source.startswith(CLOSE[mic])
                delay[mic, index] = random.uniform(0, 1) if own else random.uniform(1.5, 6)
                level = random.uniform(-3, 0) if own else random.uniform(*_BLEED_DB)
            elif mic < 10:
                delay[mic, index], level = random.uniform(3, 8), random.uniform(-12, -6)
            else:
                delay[mic, index], level = random.uniform(10, 20), random.uniform(-16, -10)
            gain[mic, index] = 10 ** (level / 20)
    rooms = []
    for seconds in _ROOMS_S:
        time = np.arange(int(seconds * rate)) / rate
        tail = random.normal(size=len(time)) * 10 ** (-3 * time / seconds)
        tail[0] = 6.0
        rooms.append((tail / np.sqrt(np.sum(tail**2))).astype(np.float32))
    return Kit(np.rint(delay * rate / 1000).astype(np.int64), gain, (rooms[0], rooms[1]))


def stems(hits: Hits, ms: Floats, rate: int) -> tuple[list[str], list[np.ndarray]]:
    """The sound of each piece."""
    kit = load_kit("ekit")
    score = score_of(hits, ms, kit)
    samples, _ = load_samples(score.voices, None)
    piece = hits.piece[score.hit]
    names = sorted(set(piece.tolist()))
    parts = [Mix(score.of(piece == name), samples, rate) for name in names]
    return names, [np.concatenate(list(part.blocks())) for part in parts]


def record(
    hits: Hits,
    ms: Floats,
    number: int,
    rate: int,
    frames: int,
    which: Sequence[int] = range(len(NAMES)),
) -> np.ndarray:
    """What some of twelve microphones hear of hits at some times; float32, shape (mics, frames)."""
    sources, sounds = stems(hits, ms, rate)
    kit = place_kit(sources, number, rate)
    noise = np.random.default_rng(number + 1)
    out = np.zeros((len(which), frames), np.float32)
    for row, mic in enumerate(which):
        for index, sound in enumerate(sounds):
            begin = int(kit.delay[mic, index])
            part = sound[: max(0, frames - begin)]
            out[row, begin : begin + len(part)] += np.float32(kit.gain[mic, index]) * part
        if mic >= 10:
            out[row] = fftconvolve(out[row], kit.rooms[mic - 10])[:frames]
        out[row] += (10 ** (_NOISE_DB / 20) * noise.normal(size=frames)).astype(np.float32)
    peak = np.abs(out).max(axis=1, keepdims=True)
    level = kit_level(number, len(NAMES))[list(which), None]
    return out / np.maximum(peak, 1e-9) * level


def kit_level(number: int, count: int) -> np.ndarray:
    """Where each microphone was turned up to: peaks of -12 to -3 dB."""
    return 10 ** (np.random.default_rng(number + 2).uniform(-12, -3, count) / 20)


def write(folder: Path, sound: np.ndarray, rate: int, subtype: str = "PCM_24") -> list[Path]:
    """One WAV file for each microphone."""
    import soundfile

    paths = []
    for name, one in zip(NAMES, sound, strict=False):
        paths.append(folder / f"{name}.wav")
        soundfile.write(paths[-1], one, rate, subtype)
    return paths
