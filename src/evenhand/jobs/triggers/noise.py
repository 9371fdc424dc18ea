"""Misfires put into a take on purpose: for trying the cleaning out, and for its tests."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.jobs.triggers.clean import LENGTH_MS, length_ticks
from evenhand.jobs.triggers.sheet import Sheet, make_sheet
from evenhand.kit import KitMap
from evenhand.take import Hits

#: Where chance comes from: a function that gives n numbers from 0 to 1, 1 excluded.
Dice = Callable[[int], Floats]

#: A pad's echo: how long after the hit (ms) and how loud (share of its velocity).
ECHO_MS, ECHO_SHARE = (8.0, 35.0), (0.15, 0.6)
#: A shaken pad's answer, likewise.
ANSWER_MS, ANSWER_SHARE = (1.0, 6.0), (0.08, 0.4)


@dataclass(frozen=True, eq=False)
class Misfires:
    """Hits that nobody played, n of them.

    Attributes
    ----------
    of : int64 array
        Index of the hit that caused each.
    delay_ms : float64 array
    velocity, note : int64 arrays
    """

    of: Ints
    delay_ms: Floats
    velocity: Ints
    note: Ints


def plant_echoes(dice: Dice, velocity: Ints, note: Ints, share: float) -> Misfires:
    """Double triggers behind hits drawn at random.

    Parameters
    ----------
    dice : Dice
    velocity, note : int64 arrays, shape (hits,)
    share : float
        How many of the hits are echoed, 0 to 1.
    """
    return _misfires(dice, velocity, note, dice(len(note)) < share, ECHO_MS, ECHO_SHARE)


def plant_crosstalk(
    dice: Dice,
    velocity: Ints,
    pad: Words,
    source: str,
    note: int,
    share: float,
    softest: int = 60,
) -> Misfires:
    """Crosstalk from one pad to another.

    Parameters
    ----------
    dice : Dice
    velocity : int64 array, shape (hits,)
    pad : str array, shape (hits,)
    source : str
        The pad that is struck.
    note : int
        The note that the shaken pad sends.
    share : float
        How many of its louder hits shake the other, 0 to 1.
    softest : int
        The velocity from which on they do.
    """
    struck: Bools = (pad == source) & (velocity >= softest) & (dice(len(pad)) < share)
    sent = np.full(len(pad), note, np.int64)
    return _misfires(dice, velocity, sent, struck, ANSWER_MS, ANSWER_SHARE)


def _misfires(
    dice: Dice,
    velocity: Ints,
    note: Ints,
    struck: Bools,
    delay: tuple[float, float],
    share: tuple[float, float],
) -> Misfires:
    of = np.flatnonzero(struck)
    loud = velocity[of] * _spread(dice, len(of), share)
    return Misfires(
        of,
        _spread(dice, len(of), delay),
        np.asarray(np.maximum(np.rint(loud), 1), np.int64),
        note[of],
    )


def _spread(dice: Dice, count: int, limits: tuple[float, float]) -> Floats:
    low, high = limits
    return np.asarray(low + (high - low) * dice(count))


def with_misfires(
    sheet: Sheet, kit: KitMap, misfires: Sequence[Misfires]
) -> tuple[Sheet, Ints, Ints]:
    """Put misfires into a sheet, rounded to ticks.

    Parameters
    ----------
    sheet : Sheet
    kit : KitMap
    misfires : sequence of Misfires
        Their `of` counts the hits of `sheet`.

    Returns
    -------
    sheet : Sheet
        In time order, numbered anew.
    kind : int64 array
        0 for a hit that was played, 1 for a misfire of the first group, and so on.
    of : int64 array
        For a misfire the index of the hit that caused it, for others their own.
    """
    hits, tempo = sheet.hits, sheet.take.tempo
    of = np.concatenate([np.arange(len(sheet)), *(one.of for one in misfires)])
    delay = np.concatenate([np.zeros(len(sheet)), *(one.delay_ms for one in misfires)])
    kind = np.repeat(np.arange(1 + len(misfires)), [len(sheet), *(len(m.of) for m in misfires)])
    tick = np.rint(tempo.to_tick(hits.ms[of] + delay)).astype(np.int64)
    tick[: len(sheet)] = hits.tick
    columns = {name: column[of] for name, column in vars(hits).items()}
    columns |= {
        "tick": tick,
        "ms": tempo.to_ms(tick),
        "note": np.concatenate([hits.note, *(one.note for one in misfires)]),
        "velocity": np.concatenate([hits.velocity, *(one.velocity for one in misfires)]),
    }
    order = np.argsort(tick, kind="stable")
    noisy = Hits(**{name: column[order] for name, column in columns.items()})
    place = np.argsort(order)
    made = make_sheet(sheet.take, kit, noisy, sheet.length[of][order], sheet.controls)
    misfired = kind[order] > 0
    length = np.where(misfired, length_ticks(made, LENGTH_MS), made.length)
    return replace(made, length=length), kind[order], place[of][order]
