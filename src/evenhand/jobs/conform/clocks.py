"""Where the audio lies against the take: an offset, and clocks that run at slightly other speeds.

First the hits of each half minute are laid over the curve of rises at every offset (by cross-
correlation), and of all straight lines through these the one on which most rises lie is taken;
so neither a long file nor a clock that runs away blurs the answer. Then each hit finds its own
attack, and a line is fitted through them that a few wrong ones can't bend (least squares with
Tukey's biweight; Holland & Welsch 1977, from memory).
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Words
from evenhand.jobs.conform.rises import HeardAttacks
from evenhand.robust import spread_of

#: How far the audio may lie from the take, seconds, and how far the clocks may run apart.
FARTHEST_S, _FASTEST = 30.0, 1000e-6
#: The curve is coarser while the line is sought, and the hits are as blunt as that.
_COARSE_S, _BLUNT = 0.002, 3
_CHUNK_S = 30.0
#: A rise counts up to here: one loud crash must not decide.
_CAP = 12.0
#: A line may miss the farthest hits by this much, seconds.
_MISS_S = 0.006
#: Fewer hits than this say nothing of an offset.
_FEW = 8
#: Tukey's constant, in spreads.
_TUKEY = 4.685


@dataclass(frozen=True)
class Clock:
    """A straight line: second of the audio = offset + (1 + drift) × second of the take.

    Attributes
    ----------
    offset : float
        Seconds; above zero the audio is late.
    drift : float
        Millionths; above zero the clock of the audio is fast, and its file longer.
    """

    offset: float
    drift: float = 0.0

    def at(self, seconds: Floats) -> Floats:
        """Where moments of the take lie in the audio, seconds."""
        return self.offset + (1 + self.drift * 1e-6) * seconds


def coarse_clock(seconds: Floats, heard: HeardAttacks) -> Clock:
    """Lay the hits over the curve: within a few ms.

    Parameters
    ----------
    seconds : float64 array, shape (hits,)
        When each hit sounds in the take.
    heard : HeardAttacks
    """
    group = max(1, round(_COARSE_S * heard.per_second))
    unit = group / heard.per_second
    capped = np.minimum(heard.rise, _CAP)
    curve = np.pad(capped, (0, -len(capped) % group)).reshape(-1, group).max(axis=1)
    curve -= curve.mean()
    reach = int(FARTHEST_S / unit)
    chunks, middles = [], []
    first = np.floor(seconds / _CHUNK_S).astype(np.int64)
    for number in np.unique(first):
        mine = seconds[first == number]
        chunks.append(_overlay(mine, number * _CHUNK_S, curve, unit, reach))
        middles.append(mine.mean())
    table, middle = np.array(chunks), np.array(middles)
    span = max(float(middle.max() - middle.min()), unit)
    most = int(_FASTEST * span / _MISS_S)
    best = (-np.inf, 0.0, 0.0)
    for turn in range(-most, most + 1):
        drift = turn * _MISS_S / span
        shift = np.rint(drift * (middle - middle[0]) / unit).astype(np.int64)
        line = np.zeros(table.shape[1] - 2 * int(np.abs(shift).max()))
        edge = int(np.abs(shift).max())
        for row, by in zip(table, shift, strict=True):
            line += row[edge + by : edge + by + len(line)]
        at = int(np.argmax(line))
        if line[at] > best[0]:
            start = (at + edge - reach) * unit - drift * middle[0]
            best = (float(line[at]), float(start), drift)
    return Clock(best[1], best[2] * 1e6)


def _overlay(mine: Floats, start: float, curve: Floats, unit: float, reach: int) -> Floats:
    """What the curve holds at the hits of a chunk, for every offset from -reach to +reach."""
    length = int(_CHUNK_S / unit) + 2 * _BLUNT + 2
    train = np.zeros(length, np.float32)
    place = np.rint((mine - start) / unit).astype(np.int64) + _BLUNT
    for near in range(-_BLUNT, _BLUNT + 1):
        np.maximum.at(train, place + near, 1 - abs(near) / (_BLUNT + 1))
    begin = round(start / unit) - _BLUNT - reach
    stretch = np.zeros(length + 2 * reach, np.float32)
    low, high = max(0, begin), min(len(curve), begin + len(stretch))
    if high > low:
        stretch[low - begin : high - begin] = curve[low:high]
    size = 1 << (len(stretch) + length - 1).bit_length()
    product = np.fft.rfft(stretch, size) * np.conj(np.fft.rfft(train, size))
    return np.asarray(np.fft.irfft(product, size)[: 2 * reach + 1], np.float64)


def fit_line(
    seconds: Floats, late: Floats, good: Bools, piece: Words, lead: Bools, turn: bool
) -> tuple[Clock, float]:
    """A line through what is left between hits and attacks, steady differences of pieces aside.

    Parameters
    ----------
    seconds : float64 array, shape (hits,)
    late : float64 array, shape (hits,)
        How much later than predicted each attack lies, seconds.
    good : bool array, shape (hits,)
        Which of them were found.
    piece : str array, shape (hits,)
    lead : bool array, shape (hits,)
        Hits that say what the offset is, if enough of them were found: others may stand far from
        all microphones.
    turn : bool
        Whether the line may turn; otherwise only an offset is fitted.

    Returns
    -------
    Clock
        What has to be added.
    float
        Standard error of the drift, millionths.
    """
    if not good.any():
        return Clock(0.0), float("inf")
    x, y, names = seconds[good], late[good], piece[good]
    told = lead[good] if np.count_nonzero(lead[good]) >= _FEW else np.ones(len(x), np.bool_)
    slope, error = _slope(x, y, names) if turn and np.ptp(x) > 0 else (0.0, float("inf"))
    return Clock(float(np.median((y - slope * x)[told])), slope * 1e6), error * 1e6


def _slope(x: Floats, y: Floats, names: Words) -> tuple[float, float]:
    """The slope that all pieces share, each at a height of its own, and its standard error."""
    flat, slope, error = y.copy(), 0.0, float("inf")
    for _ in range(12):
        for name in np.unique(names):
            mine = names == name
            flat[mine] = y[mine] - np.median((y - slope * x)[mine])
        rest = flat - slope * x
        spread = max(spread_of(rest, 0.0), 2e-5)
        weight = np.maximum(0, 1 - (rest / (_TUKEY * spread)) ** 2) ** 2
        center, level = np.average(x, weights=weight), np.average(flat, weights=weight)
        lever = float((weight * (x - center) ** 2).sum())
        if not lever:
            break
        slope = float((weight * (x - center) * (flat - level)).sum()) / lever
        error = spread / float(np.sqrt(lever))
    return slope, error
