"""Sample positions: round(seconds × rate), exact to the last sample, however long the take.

A tick's time is a fraction with the denominator division × 1,000,000, because a tempo is a whole
number of microseconds per quarter note (Standard MIDI Files 1.0, RP-001). Whole numbers of any
size carry it, so nothing is lost an hour in; rounding happens once, to nearest with ties to even.
"""

from collections.abc import Iterable
from fractions import Fraction
from itertools import accumulate, pairwise

import numpy as np

from evenhand.columns import Ints
from evenhand.errors import MidiFileError, SettingError
from evenhand.take import TempoMap

#: Sample rates that are in use, Hz (AES5-2018, from memory: 48 kHz preferred, 44.1, 96; their
#: doubles and halves in step).
RATES = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)

_MOST = (1 << 63) - 1


def check_rate(rate: int) -> int:
    """Let a known sample rate through.

    Raises
    ------
    SettingError
        If it is none of `RATES`.
    """
    if rate not in RATES:
        raise SettingError(f"rate: {rate} is not a known rate; there are {_listed(RATES)}")
    return rate


def _listed(rates: Iterable[int]) -> str:
    return ", ".join(map(str, rates))


def exact_seconds(tempo: TempoMap, tick: Ints) -> list[Fraction]:
    """The exact time of each tick in seconds."""
    below = tempo.division * 1_000_000
    return [Fraction(above, below) for above in _numerators(tempo, tick)]


def sample_numbers(tempo: TempoMap, tick: Ints, rate: int) -> Ints:
    """The sample at which each tick falls, from 0.

    Parameters
    ----------
    tempo : TempoMap
    tick : int64 array
    rate : int
        Samples per second.

    Returns
    -------
    int64 array
        round(seconds × rate), ties to even.

    Raises
    ------
    MidiFileError
        If a number does not fit.
    """
    below = tempo.division * 1_000_000
    numbers = []
    for above in _numerators(tempo, tick):
        whole, rest = divmod(above * rate, below)
        up = 2 * rest > below or (2 * rest == below and whole % 2 == 1)
        numbers.append(whole + up)
    if max(numbers, default=0) > _MOST:
        raise MidiFileError("the take lasts for longer than samples can be counted")
    return np.array(numbers, np.int64)


def _numerators(tempo: TempoMap, tick: Ints) -> list[int]:
    """Ticks × microseconds per quarter note up to each tick: its time × division × 1,000,000."""
    places, tempi = tempo.tick.tolist(), tempo.tempo.tolist()
    steps = [
        (end - begin) * speed for (begin, end), speed in zip(pairwise(places), tempi, strict=False)
    ]
    spent = list(accumulate(steps, initial=0))
    here = np.searchsorted(tempo.tick, tick, side="right") - 1
    return [
        spent[one] + (at - places[one]) * tempi[one]
        for at, one in zip(np.asarray(tick).tolist(), here.tolist(), strict=True)
    ]
