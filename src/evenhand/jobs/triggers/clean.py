"""Cleaning: what goes and why; nothing goes unseen, and each hit can be put back by its number."""

from dataclasses import dataclass, field

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.errors import SettingError
from evenhand.jobs.triggers.crosstalk import CrosstalkPair, find_crosstalk
from evenhand.jobs.triggers.doubles import MASK_MS, find_doubles
from evenhand.jobs.triggers.per_piece import Dials
from evenhand.jobs.triggers.sheet import STUCK, Sheet

DOUBLE, CROSSTALK, TOO_SOFT = "double trigger", "crosstalk", "too soft"

#: Every reason there is, in the order in which they are looked for.
REASONS = (CROSSTALK, DOUBLE, TOO_SOFT)

#: Length given to notes that have none, ms: what e-kits send with every hit (seen in the takes of
#: the Groove MIDI Dataset).
LENGTH_MS = 100.0
#: A note that sounds for longer than this is stuck, ms; cymbals ring for less (common practice).
LONGEST_MS = 10_000.0


@dataclass(frozen=True)
class Cleaning:
    """What to clean.

    Attributes
    ----------
    doubles, crosstalk, lengths : bool
        Whether to look for double triggers, crosstalk, and notes without a sensible length.
    mask : Dials
        How long a pad may echo, ms, by piece.
    drop_below : Dials
        Hits softer than this go, velocity by piece; 1 keeps all.
    length : float
        Given to stuck and zero-length notes, ms.
    put_back : tuple of int
        Numbers of hits that stay whatever was found.
    """

    doubles: bool = True
    crosstalk: bool = True
    lengths: bool = True
    mask: Dials = field(default_factory=lambda: Dials(MASK_MS))
    drop_below: Dials = field(default_factory=lambda: Dials(1.0))
    length: float = LENGTH_MS
    put_back: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class Cleaned:
    """What was found, m hits of n.

    Attributes
    ----------
    hit : int64 array, shape (m,)
        Index of each hit that goes, in file order.
    of : int64 array, shape (m,)
        Index of the hit that caused it; -1 where none did.
    reason : str array, shape (m,)
        One of `REASONS`.
    put_back : int64 array
        Index of each hit that would have gone, but stays as told.
    relength : bool array, shape (n,)
        Whose length is replaced.
    pairs : tuple of CrosstalkPair
        Which pad shakes which.
    """

    hit: Ints
    of: Ints
    reason: Words
    put_back: Ints
    relength: Bools
    pairs: tuple[CrosstalkPair, ...]

    def keep(self) -> Bools:
        """Which of the n hits stay."""
        stay = np.ones(len(self.relength), np.bool_)
        stay[self.hit] = False
        return stay


def find_faults(sheet: Sheet, cleaning: Cleaning) -> Cleaned:
    """Find what does not belong to the performance.

    Crosstalk is looked for first, in all hits; double triggers in those that are left, hits
    that are too soft last.

    Parameters
    ----------
    sheet : Sheet
    cleaning : Cleaning

    Raises
    ------
    SettingError
        If a hit that is to be put back was never removed.
    """
    hits = sheet.hits
    of = np.full(len(sheet), -1, np.int64)
    reason = np.full(len(sheet), "", "<U16")
    pairs: tuple[CrosstalkPair, ...] = ()
    if cleaning.crosstalk:
        _, beat = sheet.take.meter.place(hits.tick)
        crosstalk = find_crosstalk(hits.ms, hits.velocity, sheet.pad, beat)
        reason[crosstalk.hit], of[crosstalk.hit] = CROSSTALK, crosstalk.of
        pairs = crosstalk.pairs
    if cleaning.doubles:
        left = np.flatnonzero(reason == "")
        mask = cleaning.mask.each(hits.piece)
        echoes = find_doubles(hits.ms[left], hits.velocity[left], sheet.pad[left], mask[left])
        echo = left[echoes.hit]
        reason[echo], of[echo] = DOUBLE, left[echoes.of]
    soft = (reason == "") & (hits.velocity < cleaning.drop_below.each(hits.piece))
    reason[soft] = TOO_SOFT

    back = _put_back(cleaning.put_back, reason)
    going = reason != ""
    going[back] = False
    gone = np.flatnonzero(going)
    return Cleaned(gone, of[gone], reason[gone], back, _odd_lengths(sheet, cleaning), pairs)


def _put_back(numbers: tuple[int, ...], reason: Words) -> Ints:
    for number in numbers:
        if not 1 <= number <= len(reason):
            raise SettingError(f"put-back: there is no hit {number}; the last is {len(reason)}")
        if not reason[number - 1]:
            raise SettingError(f"put-back: hit {number} was not removed; removed.csv lists those")
    return np.array(sorted(set(numbers)), np.int64) - 1


def _odd_lengths(sheet: Sheet, cleaning: Cleaning) -> Bools:
    if not cleaning.lengths:
        return np.zeros(len(sheet), np.bool_)
    tempo, begin = sheet.take.tempo, sheet.hits.tick
    lasts: Floats = tempo.to_ms(begin + np.maximum(sheet.length, 0)) - sheet.hits.ms
    return np.asarray((sheet.length == STUCK) | (sheet.length == 0) | (lasts > LONGEST_MS))


def length_ticks(sheet: Sheet, length_ms: float) -> Ints:
    """A length in ms as whole ticks from each hit, at least one."""
    tempo = sheet.take.tempo
    end = tempo.to_tick(sheet.hits.ms + length_ms)
    return np.asarray(np.maximum(np.rint(end) - sheet.hits.tick, 1), np.int64)
