"""Where the sound rises: one curve over all microphones, in steps of half a millisecond.

An attack is a sudden gain of energy. For each file the energy of the next ms is held against that
of the 10 ms before, as a logarithm, once for the whole sound (drums are loud below) and once for
its differences from sample to sample (which weigh what is high, and with it hats and sticks): an
energy and a two-band spectral flux after Dixon 2006, "Onset detection revisited" (DAFx; from
memory). What rises by less than chance makes of noise is nothing; the rest is summed over files.
The curve is made block by block, so that memory doesn't grow with the files.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.jobs.conform.encoding import Signal
from evenhand.jobs.conform.microphone import Microphone, Size

#: Steps of the curve per second, about: a step is a whole number of samples.
_STEPS = 2000
#: Steps of the energy before and after a place.
_BEFORE, _AFTER = 20, 2
#: Noise rises by so much by chance (natural logarithm of energy), and no more than this counts.
_CHANCE, _MOST = 0.7, 5.0
#: Energy that is added on both sides: 60 dB below the loudness of the file.
_FLOOR = 1e-6
#: Steps that are worked on at once: two seconds.
_BLOCK = 4096
#: Loudness is measured on so many stretches of so many seconds, spread over the file.
_STRETCHES, _STRETCH_S = 48, 0.5
#: From here on a sample counts as clipped.
_CLIPPED = 1 - 2.0**-15


@dataclass(frozen=True, eq=False)
class HeardAttacks:
    """What was heard in all files.

    Attributes
    ----------
    step : int
        Samples per step of the curve.
    rate : int
        Samples per second.
    rise : float32 array, shape (steps,)
        How much the sound rises at each step, summed over files.
    loudness : float64 array, shape (files,)
        Root of the mean square of each file, full scale 1; 0 for silence.
    clipped : int64 array, shape (files,)
        Samples at full scale.
    """

    step: int
    rate: int
    rise: Signal
    loudness: Floats
    clipped: Ints

    @property
    def silent(self) -> Bools:
        """Which files hold nothing."""
        return np.asarray(self.loudness == 0)

    @property
    def per_second(self) -> float:
        """Steps per second."""
        return self.rate / self.step


def hear(
    microphones: Sequence[Microphone], size: Size, pool: Executor, tell: Callable[[int], object]
) -> HeardAttacks:
    """Listen through all files once.

    Parameters
    ----------
    microphones : sequence of Microphone
    size : Size
    pool : Executor
        Threads that share the files.
    tell : callable
        Told after each block how many samples of each file are done.
    """
    step = max(1, round(size.rate / _STEPS))
    loudness = np.array(list(pool.map(lambda one: _loudness(one, size), microphones)))
    steps = -(-size.frames // step)
    rise = np.zeros(steps, np.float32)
    clipped = np.zeros(len(microphones), np.int64)
    peak = np.zeros(len(microphones))
    for first in range(0, steps, _BLOCK):
        count = min(_BLOCK, steps - first)
        work = [
            (one, first, count, step, loud) for one, loud in zip(microphones, loudness, strict=True)
        ]
        for index, (part, full, high) in enumerate(pool.map(_listen, work)):
            rise[first : first + count] += part
            clipped[index] += full
            peak[index] = max(peak[index], high)
        tell(min(size.frames, (first + count) * step))
    # A file that is quiet wherever its loudness was measured, but not silent.
    loudness = np.where((loudness == 0) & (peak > 0), peak, loudness)
    return HeardAttacks(step, size.rate, rise, loudness, clipped)


def ears_of(
    microphones: Sequence[Microphone], heard: HeardAttacks
) -> Callable[[int, int, int], Signal]:
    """The rise in one file by itself: file, first step, steps."""

    def listen(file: int, first: int, count: int) -> Signal:
        loudness = float(heard.loudness[file])
        return _listen((microphones[file], first, count, heard.step, loudness))[0]

    return listen


def _loudness(one: Microphone, size: Size) -> float:
    length = min(size.frames, int(_STRETCH_S * size.rate))
    starts = np.unique(np.linspace(0, size.frames - length, _STRETCHES).astype(int))
    squares = [float(np.mean(np.square(_sound(one, int(at), length)))) for at in starts]
    return float(np.sqrt(np.mean(squares)))


def _sound(one: Microphone, start: int, count: int) -> Signal:
    sound = one.listen(start, count)
    if one.layout.encoding.kind == "float":
        np.nan_to_num(sound, copy=False, nan=0.0, posinf=0.0, neginf=0.0)
    return sound


def _listen(work: tuple[Microphone, int, int, int, float]) -> tuple[Signal, int, float]:
    """The rise in one block of one file, its clipped samples, and its peak."""
    one, first, count, step, loudness = work
    steps = _BEFORE + count + _AFTER - 1
    sound = _sound(one, (first - _BEFORE) * step - 1, steps * step + 1)
    high = max(float(sound.max()), -float(sound.min()))
    full = int(np.count_nonzero(np.abs(sound) >= _CLIPPED)) if high >= _CLIPPED else 0
    if not high:
        return np.zeros(count, np.float32), 0, 0.0
    floor = _FLOOR * max(loudness, 1e-9) ** 2
    low = _rise(_energy(sound[1:], steps), floor, count)
    bright = _rise(_energy(sound[1:] - sound[:-1], steps), floor, count)
    return (low + bright).astype(np.float32), full, high


def _energy(sound: Signal, steps: int) -> Floats:
    rows = np.ascontiguousarray(sound).reshape(steps, -1)
    return np.asarray(np.einsum("ij,ij->i", rows, rows), np.float64) / rows.shape[1]


def _rise(energy: Floats, floor: float, count: int) -> Floats:
    total = np.concatenate([[0.0], np.cumsum(energy)])
    before = (total[_BEFORE : _BEFORE + count] - total[:count]) / _BEFORE
    ahead = total[_BEFORE + _AFTER : _BEFORE + _AFTER + count]
    after = (ahead - total[_BEFORE : _BEFORE + count]) / _AFTER
    gain = np.log((np.maximum(after, 0) + floor) / (np.maximum(before, 0) + floor))
    return np.asarray(np.clip(gain - _CHANCE, 0, _MOST))
