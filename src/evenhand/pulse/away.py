"""Whether hits run away steadily from the lines of the file: a tempo that was rounded.

The measure is the coherence of `recurrence` at the quarter of the file and its halves, thirds and
quarters, in blocks of a few beats. If the blocks agree far better once their lines run a little
faster or slower than the file says, and that takes the end of the take clearly away from where it
began, the file has another tempo than the hits. A player on a click sways and comes back.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Complexes, Floats, differences, indices
from evenhand.pulse.recurrence import gathering, turned

# Length of a block in quarters, parts of a quarter that tell, and how much finer than the spectrum
# rates are looked at.
_BLOCK, _PARTS, _FINER = 8, (1, 2, 3, 4), 8
# Rates that are looked for, at most: beyond, hits gather on no line of the file at all.
_MOST = 0.012
# Fewest hits, and blocks with hits; blocks in all, at the most: four hours at 500 bpm. The spectrum
# of more of them, nearly all empty, would take memory by the emptiness of a file.
_FEWEST, _FEWEST_BLOCKS, _MOST_BLOCKS = 32, 3, 1 << 14
# How far apart beginning and end come, ms, and how much more coherent the blocks become. Takes to a
# click stray by 45 ms at the most over their whole length (the 79 longer ones of the takes of the
# Groove MIDI Dataset at hand); 0.2 % are 120 ms a minute.
# And how surely they gather on some part of the quarter then: by chance they hardly do.
_AWAY_MS, _GAIN, _GATHERED = 55.0, 1.15, 0.25
#: The doubt about where the two ends lie, ms.
DOUBT_MS = 35.0


@dataclass(frozen=True)
class Away:
    """How hits run away from the lines of the file.

    Attributes
    ----------
    rate : float
        How much faster the hits are than the file; 0.002 is 0.2 %.
    doubt : float
        By how much the rate may be wrong.
    ms : float
        How much later the end lies than the beginning, against the lines; minus is earlier.
    """

    rate: float
    doubt: float
    ms: float


def find_away(
    beat: Floats, place: Floats, weight: Floats, quarter_ms: float, turns: Complexes | None = None
) -> Away | None:
    """Find whether hits run away from the lines, and how fast.

    Parameters
    ----------
    beat : float64 array, shape (n,)
        Quarters of the file from its start, in order.
    place : float64 array, shape (n,)
        Quarters from the bar line before.
    weight : float64 array, shape (n,)
        Loudness, 0 to 1.
    quarter_ms : float
        Length of a quarter, ms.
    turns : complex128 array, shape (4, n), optional
        Of the places, from `turned`, where they are known.

    Returns
    -------
    Away or None
        None where they don't, or it can't be told.
    """
    if len(beat) < _FEWEST:
        return None
    block = ((beat - beat[0]) / _BLOCK).astype(np.int64)
    first = indices(differences(block, -1))
    if len(first) < _FEWEST_BLOCKS or block[-1] >= _MOST_BLOCKS:
        return None
    length = float(beat[-1] - beat[0])
    size = 1 << int(np.ceil(np.log2(_FINER * (block[-1] + 1))))
    step = min(0.01 * 1000 / quarter_ms / length, _MOST / 8)
    rates = step * np.arange(-int(_MOST / step), int(_MOST / step) + 1)
    turns = turned(place, _PARTS) if turns is None else turns
    sums = np.zeros((len(_PARTS), block[-1] + 1), np.complex128)
    sums[:, block[first]] = np.add.reduceat(weight * turns, first, axis=1)
    found = np.abs(np.fft.fft(sums, size))
    # Lines that run by a rate turn a block by rate * part * _BLOCK against the one before.
    at = (-rates * np.array(_PARTS)[:, None] * _BLOCK * size) % size
    low = at.astype(np.int64)
    share = at - low
    row = np.arange(len(_PARTS))[:, None]
    near, after = found[row, low % size], found[row, (low + 1) % size]
    score = (near * (1 - share) + after * share).sum(axis=0)
    best = int(np.argmax(score))
    as_filed = score[len(rates) // 2]
    rate = float(rates[best])
    ms = -rate * length * quarter_ms
    if abs(ms) < _AWAY_MS or score[best] < _GAIN * as_filed:
        return None
    # Blocks that agree by chance don't gather inside.
    if gathering(place + rate * beat, _PARTS).max() < _GATHERED:
        return None
    return Away(rate, DOUBT_MS / (length * quarter_ms), ms)
