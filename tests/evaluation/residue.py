"""What is heard of a cut: the conformed files against the truth, in octaves and milliseconds."""

import numpy as np

#: Frames of the comparison: as long, and one so often, seconds.
_FRAME_S, _HOP_S = 0.0213, 0.002
#: Edges of the octaves, Hz.
_OCTAVES = np.array([44, 88, 177, 354, 707, 1414, 2828, 5657, 11314, 20000])
#: Levels below this are not heard beside the drums: dB below the loudness of the whole file.
_FLOOR_DB = -50.0
#: More than this, for longer than that, is heard.
LOUDER_DB, LONGER_S = 6.0, 0.010


def floor_of(sound: np.ndarray) -> float:
    """The power below which nothing is heard beside a whole file."""
    return float(np.mean(np.square(sound)) * 10 ** (_FLOOR_DB / 10))


def distances(
    one: np.ndarray, other: np.ndarray, first: int, last: int, rate: int, floor: float
) -> np.ndarray:
    """Log-spectral difference of two sounds between two samples, dB, a value each 2 ms.

    The root of the mean square over octaves of the difference of their levels, in frames whose
    middle lies between the two samples. A floor (see `floor_of`) keeps what nobody hears out of it.
    """
    size = int(_FRAME_S * rate)
    hop = int(_HOP_S * rate)
    middles = np.arange(first, max(first + 1, last), hop)
    levels = [_octaves(sound, middles, size, rate) for sound in (one, other)]
    return np.sqrt(np.mean((_db(levels[0] + floor) - _db(levels[1] + floor)) ** 2, axis=1))


def _db(power: np.ndarray) -> np.ndarray:
    return 10 * np.log10(power)


def _octaves(sound: np.ndarray, middles: np.ndarray, size: int, rate: int) -> np.ndarray:
    place = middles[:, None] + np.arange(size) - size // 2
    frames = np.where(
        (place >= 0) & (place < len(sound)), sound[np.clip(place, 0, len(sound) - 1)], 0
    )
    window = np.hanning(size)
    power = np.abs(np.fft.rfft(frames * window)) ** 2 / (size * np.sum(window**2)) * 2
    edges = np.searchsorted(np.fft.rfftfreq(size, 1 / rate), _OCTAVES)
    return np.add.reduceat(power, edges[:-1], axis=1)


def is_heard(difference: np.ndarray) -> bool:
    """Whether a difference stays above 6 dB for more than 10 ms."""
    run = longest = 0
    for above in (difference > LOUDER_DB).tolist():
        run = run + 1 if above else 0
        longest = max(longest, run)
    return longest * _HOP_S > LONGER_S
