"""Samples: one-shots as arrays, how velocity changes them, and the user's own files.

Velocity acts as in the default modulators of the SoundFont 2.01 specification, section 8.4 (from
memory): amplitude goes with the square of velocity, and a low pass opens by two octaves towards
full velocity. `soften` computes what a `lowpass` biquad of the Web Audio API computes, so that
the page and the rendered file sound alike.
"""

import io
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from evenhand.columns import Floats
from evenhand.errors import DiskError, SettingError
from evenhand.take import open_plain

Signal = npt.NDArray[np.float32]

#: Brightness has as many steps: neighbouring velocities share one filtered sample.
STEPS = 8
_OPEN_HZ, _OCTAVES = 20_000.0, 2.0

#: Longest one-shot that is read from a file, seconds; more is no single hit.
_LONGEST_S = 20.0
#: No one-shot is faster, wider or louder (full scale is 1). Common practice.
_FASTEST, _MOST_CHANNELS, _LOUDEST = 384_000, 16, 1000.0
_ENDINGS = (".wav", ".flac", ".ogg", ".aif", ".aiff")


@dataclass(frozen=True, eq=False)
class OneShot:
    """The sound of one hit.

    Attributes
    ----------
    rate : int
        Samples per second.
    signal : float32 array, shape (n,)
        Mono; full scale is 1. The hit begins at its first sample.
    """

    rate: int
    signal: Signal


def loudness(velocity: npt.ArrayLike) -> Floats:
    """Amplitude for velocities 0 to 127, 1 at full velocity."""
    return np.asarray((np.asarray(velocity) / 127.0) ** 2)


def brightness_step(velocity: npt.ArrayLike) -> npt.NDArray[np.int64]:
    """Step of brightness for velocities 0 to 127: 0 is the darkest."""
    return np.asarray(np.asarray(velocity, np.int64) * STEPS // 128)


def cutoff_hz(step: int) -> float:
    """Cut-off of the low pass at a step of brightness, Hz; the brightest has none (infinite)."""
    if step >= STEPS - 1:
        return float("inf")
    return float(_OPEN_HZ * 2.0 ** (_OCTAVES * (step + 1 - STEPS) / STEPS))


def soften(signal: Signal, rate: int, cutoff: float) -> Signal:
    """Send a signal through the low pass of the Web Audio API's biquad (Q 0 dB).

    Parameters
    ----------
    signal : float32 array, shape (n,)
    rate : int
        Samples per second.
    cutoff : float
        Hz; at half the rate and above nothing changes.

    References
    ----------
    Web Audio API 1.0 (W3C Recommendation, 2021), "Filters Characteristics", lowpass (from memory).
    """
    if cutoff >= rate / 2:
        return signal
    w0 = 2 * np.pi * cutoff / rate
    alpha, cosine = np.sin(w0) / 2, np.cos(w0)
    b = np.array([1 - cosine, 2 - 2 * cosine, 1 - cosine]) / 2
    a = np.array([1 + alpha, -2 * cosine, 1 - alpha])
    # Through the spectrum, with room behind the end for what rings on: no loop over samples.
    size = _power_of_two(len(signal) + 1024)
    z = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    response = (b[0] + b[1] * z + b[2] * z**2) / (a[0] + a[1] * z + a[2] * z**2)
    spectrum = np.fft.rfft(signal, size) * response
    return np.fft.irfft(spectrum, size)[: len(signal)].astype(np.float32)


def stretch(signal: Floats, step: float) -> Floats:
    """Read a signal every `step` samples: step 2 is an octave up, or half the rate.

    The spectrum is first widened to four times the rate (and cut where the result could not hold
    it), then read by straight lines.
    """
    if step == 1 or not len(signal):
        return signal
    size = _power_of_two(len(signal) + 64)
    spectrum = np.fft.rfft(signal, size)
    if step > 1:
        spectrum[int(size / 2 / step) :] = 0
    fine = np.fft.irfft(spectrum, 4 * size) * 4
    count = int(np.ceil(len(signal) / step))
    return np.asarray(np.interp(np.arange(count) * (4 * step), np.arange(len(fine)), fine))


def at_rate(shot: OneShot, rate: int) -> Signal:
    """The signal of a one-shot at another rate."""
    return stretch(shot.signal.astype(np.float64), shot.rate / rate).astype(np.float32)


def _power_of_two(least: int) -> int:
    return 1 << (max(least, 2) - 1).bit_length()


def folder_samples(folder: Path, voices: Iterable[str]) -> dict[str, OneShot]:
    """Read the user's own one-shots.

    Parameters
    ----------
    folder : Path
        Files named like the voices, with hyphens: `kick.wav`, `hat-open.wav`, `tom-1.flac`. A zone
        without a file takes the one of its piece.
    voices : iterable of str

    Returns
    -------
    dict of str to OneShot
        Only the voices that the folder has.

    Raises
    ------
    DiskError
        If the folder or a file can't be read as sound.
    SettingError
        If the folder has none of the voices.
    """
    wanted = list(voices)
    try:
        there = {path.name.lower(): path for path in sorted(folder.iterdir())}
    except OSError as error:
        raise DiskError(f"the folder {folder} can't be read: {error.strerror}") from error
    found: dict[str, OneShot] = {}
    for voice in wanted:
        # A tom's number belongs to the piece, not to a zone.
        piece = voice if voice.startswith("tom ") else voice.rsplit(" ", 1)[0]
        stems = [voice.replace(" ", "-"), piece.replace(" ", "-")]
        names = [stem + ending for stem in stems for ending in _ENDINGS]
        path = next((there[name] for name in names if name in there), None)
        if path:
            found[voice] = _read_sound(path)
    if not found:
        examples = ", ".join(f"{voice.replace(' ', '-')}.wav" for voice in wanted[:3])
        raise SettingError(f"{folder} has no sample for this take; name files {examples} …")
    return found


class _Opened(io.BufferedReader):
    """A file whose header may send its reader to places that there are not: it stays then."""

    def seek(self, place: int, whence: int = os.SEEK_SET, /) -> int:
        try:
            return super().seek(place, whence)
        except (OSError, ValueError):
            return self.tell()


def _read_sound(path: Path) -> OneShot:
    import soundfile

    try:
        # The folder may come from anywhere: a pipe would be waited for.
        opened = _Opened(open_plain(path, follow=False).detach())
        with opened, soundfile.SoundFile(opened) as file:
            if file.frames > _LONGEST_S * file.samplerate:
                raise DiskError(f"{path} is longer than {_LONGEST_S:g} s; give one hit per file")
            if file.samplerate > _FASTEST or file.channels > _MOST_CHANNELS:
                raise DiskError(
                    f"{path} has {file.channels} channels at {file.samplerate} Hz; "
                    f"up to {_MOST_CHANNELS} at {_FASTEST} are read"
                )
            data = file.read(dtype="float32", always_2d=True)
            rate = int(file.samplerate)
    except soundfile.SoundFileError as error:
        why = str(getattr(error, "error_string", error)).strip()
        raise DiskError(f"{path} can't be read as sound: {why}") from error
    except OSError as error:
        raise DiskError(f"{path} can't be read: {error.strerror}") from error
    if not len(data) or not np.isfinite(data).all():
        raise DiskError(f"{path} holds no sound")
    if np.abs(data).max() > _LOUDEST:
        raise DiskError(f"{path} is more than {_LOUDEST:g} times as loud as full scale")
    return OneShot(rate, data.mean(axis=1, dtype=np.float32))
