"""Rendering: a score and samples in, sound out, block by block.

A hit begins at sample round(seconds × rate), so a rendered take can stand for the MIDI in any
later step. The whole mix is never held in memory: it is computed twice instead, once for its peak
and once to be written.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.sound.samples import (
    OneShot,
    Signal,
    at_rate,
    brightness_step,
    cutoff_hz,
    loudness,
    soften,
)
from evenhand.sound.score import Score
from evenhand.take import name_for_library

#: Every file peaks here, dB of full scale.
PEAK_DB = -1.0

#: Samples per block: long Ogg files must not be written in one call (libsndfile crashes).
BLOCK = 1 << 18

#: A choked sound dies within this time, seconds.
_CHOKE_S = 0.01

#: Encoding of each kind of file. 24 bits keep the sum of stems within a millionth of the mix.
FORMATS = {".wav": ("WAV", "PCM_24"), ".flac": ("FLAC", "PCM_24"), ".ogg": ("OGG", "VORBIS")}


def to_sample(ms: Floats, rate: int) -> Ints:
    """The sample at which each hit begins: round(seconds × rate)."""
    return np.rint(ms / 1000 * rate).astype(np.int64)


@dataclass(frozen=True, eq=False)
class Mix:
    """A score with its samples at one rate: can be computed any number of times.

    Attributes
    ----------
    score : Score
    samples : dict of str to OneShot
        One for each voice of the score.
    rate : int
        Samples per second.
    """

    score: Score
    samples: Mapping[str, OneShot]
    rate: int

    @cached_property
    def _sounds(self) -> dict[tuple[int, int], Signal]:
        """Each voice at each step of brightness that occurs."""
        step = brightness_step(self.score.velocity)
        pairs = sorted({*zip(self.score.voice.tolist(), step.tolist(), strict=True)})
        plain = {
            voice: at_rate(self.samples[self.score.voices[voice]], self.rate) for voice, _ in pairs
        }
        return {
            (voice, step): soften(plain[voice], self.rate, cutoff_hz(step)) for voice, step in pairs
        }

    @cached_property
    def length(self) -> int:
        """Samples from the start of the file until the last sound has died away."""
        if not len(self.score.ms):
            return 0
        longest = max(len(sound) for sound in self._sounds.values())
        return int(to_sample(self.score.ms, self.rate).max()) + longest

    def blocks(self) -> Iterator[Signal]:
        """The sound, mono, in blocks of at most `BLOCK` samples."""
        score, sounds = self.score, self._sounds
        start = to_sample(score.ms, self.rate)
        room = to_sample(np.minimum(score.until_ms, 1e12), self.rate) - start
        columns = zip(
            start.tolist(),
            score.voice.tolist(),
            brightness_step(score.velocity).tolist(),
            loudness(score.velocity).astype(np.float32),
            room.tolist(),
            strict=True,
        )
        hits = iter(columns)
        hit = next(hits, None)
        longest = max((len(sound) for sound in sounds.values()), default=0)
        buffer = np.zeros(BLOCK + longest, np.float32)
        for begin in range(0, self.length, BLOCK):
            while hit and hit[0] < begin + BLOCK:
                at, voice, step, level, free = hit
                sound = sounds[voice, step] * level
                if free < len(sound):
                    sound = self._choked(sound, free)
                buffer[at - begin : at - begin + len(sound)] += sound
                hit = next(hits, None)
            yield buffer[: min(BLOCK, self.length - begin)].copy()
            # What rings on into the next block comes first in it.
            buffer[:longest] = buffer[BLOCK:].copy()
            buffer[longest:] = 0

    def _choked(self, sound: Signal, free: int) -> Signal:
        fade = int(_CHOKE_S * self.rate)
        short = sound[: free + fade].copy()
        short[free:] *= np.linspace(1, 0, fade, dtype=np.float32)[: len(short) - free]
        return short


def peak_of(mixes: list[tuple[Mix, float]]) -> float:
    """Highest absolute value of the sum of some mixes, each times its factor."""
    return max((float(np.abs(block).max()) for block in summed(mixes) if len(block)), default=0.0)


def summed(mixes: list[tuple[Mix, float]]) -> Iterator[Signal]:
    """The sum of some mixes, each times its factor, in blocks."""
    parts = [(mix.blocks(), factor) for mix, factor in mixes]
    while True:
        blocks = [(next(blocks, None), factor) for blocks, factor in parts]
        real = [(block, factor) for block, factor in blocks if block is not None]
        if not real:
            return
        total = np.zeros(max(len(block) for block, _ in real), np.float32)
        for block, factor in real:
            total[: len(block)] += block * np.float32(factor)
        yield total


def decibels(factor: float) -> float:
    """A factor of amplitude in dB."""
    return float(20 * np.log10(factor))


def factor_of(db: float) -> float:
    """Decibels as a factor of amplitude."""
    return float(10 ** (db / 20))


def write_sound(path: Path, kind: str, mixes: list[tuple[Mix, float]], rate: int) -> None:
    """Write the sum of some mixes, each times its factor, to a file.

    Parameters
    ----------
    path : Path
        Overwritten.
    kind : str
        Key of `FORMATS`, which the name of a temporary file doesn't tell.
    mixes : list of (Mix, float)
    rate : int
        Samples per second.

    Raises
    ------
    OSError
        If the disk takes no more.
    """
    import soundfile

    container, encoding = FORMATS[kind]
    try:
        with soundfile.SoundFile(
            name_for_library(path), "w", rate, 1, encoding, format=container
        ) as file:
            for block in summed(mixes):
                file.write(block)
    except soundfile.LibsndfileError as error:
        # libsndfile does not say what the system said; nearly always it is this.
        raise OSError("the disk is full, or failing") from error
