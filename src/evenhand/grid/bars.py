"""Where bars begin, once the beat is known.

That is a question of what is played where: kicks and crashes mark the bar, snares the backbeat, and
players tend to begin on a bar. The weights of these
marks were found by logistic regression on the tuning part of the takes (docs/assess.md); they are
few, so that they say what any drummer would say.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats
from evenhand.grid.pulse import Onsets

# Weights of the marks of a bar: kick on its first beat, snare on the backbeat, crash on the first
# beat, the first hit of the take on it.
_BAR_WEIGHTS = (0.7, 0.75, 1.4, 1.35)
# How near to the first beat a first hit must be, in beats.
_FIRST = 0.15
# Four beats are a bar unless bars of another length repeat themselves that much better.
_METERS = (3, 5)
_CLEARLY = 0.12
# Parts of a beat that are told apart when bars are compared.
_SLOTS = 4


@dataclass(frozen=True)
class Bar:
    """How bars lie over beats.

    Attributes
    ----------
    beats : int
        Beats in a bar.
    first : int
        Which of the beats (counted from the first one given) begins a bar.
    margin : float
        Log-odds over the second best beginning: near 0 is a guess.
    repeats : dict of int to float
        How well bars of each length repeat themselves, -1 to 1.
    """

    beats: int
    first: int
    margin: float
    repeats: dict[int, float]


def find_bar(onsets: Onsets, beat: Floats, beats: int | None = None) -> Bar:
    """Find how many beats make a bar and which begins one.

    Parameters
    ----------
    onsets : Onsets
    beat : float64 array, shape (n,)
        Where each hit lies, in beats from a first one (0); may be negative.
    beats : int, optional
        Beats in a bar, if known.
    """
    slot = np.rint(beat * _SLOTS).astype(np.int64)
    before = max(-(-int(-slot.min()) // _SLOTS), 0)
    slot = slot + before * _SLOTS
    count = int(slot.max()) // _SLOTS + 1
    rest = ~(onsets.kick | onsets.snare | onsets.keeper | onsets.crash)
    table = np.zeros((5, count * _SLOTS))
    for row, which in enumerate((onsets.kick, onsets.snare, onsets.keeper, onsets.crash, rest)):
        np.add.at(table[row], slot[which], onsets.weight[which] ** 2)
    parts = np.minimum(table, 1.5).reshape(5, count, _SLOTS)
    repeats = _repeats(parts)
    beats = beats or _length(repeats)
    odds = bar_odds(parts[:, :, 0], beats, float(beat.min()) + before)
    order = np.argsort(-odds, kind="stable")
    margin = float(odds[order[0]] - odds[order[1]]) if beats > 1 else 0.0
    return Bar(beats, int(order[0] - before) % beats, margin, repeats)


def _repeats(table: Floats) -> dict[int, float]:
    """Mean correlation of beats that lie so many beats apart."""
    beats = table.transpose(1, 0, 2).reshape(table.shape[1], -1)
    beats = beats - beats.mean(axis=0)
    beats = beats / (np.linalg.norm(beats, axis=1, keepdims=True) + 1e-6)
    return {
        lag: float((beats[lag:] * beats[:-lag]).sum(axis=1).mean())
        for lag in range(2, 13)
        if len(beats) > lag + 4
    }


def _length(repeats: dict[int, float]) -> int:
    """Four, unless three or five (and twice that) repeat clearly better."""
    if 5 not in repeats:
        return 4
    best, four = 4, max(repeats[4], repeats[2])
    for beats in _METERS:
        if repeats[beats] > max(four, repeats.get(best, four) if best != 4 else four) + _CLEARLY:
            best = beats
    return best


def bar_odds(on_beat: Floats, beats: int, first: float | None = None) -> Floats:
    """Log-odds of each beat to begin a bar.

    Parameters
    ----------
    on_beat : float64 array, shape (4 or more, n)
        What kicks, snares, timekeepers and crashes weigh on each of n beats.
    beats : int
        Beats in a bar.
    first : float, optional
        Where the first hit lies, in beats.
    """
    place = np.arange(on_beat.shape[1])
    mean = on_beat.mean(axis=1) + 0.02
    odds = np.zeros(beats)
    for offset in range(beats):
        where = (place - offset) % beats
        share = on_beat @ (where == np.arange(beats)[:, None]).T
        share /= np.maximum((where == np.arange(beats)[:, None]).sum(axis=1), 1)
        log = np.log(share / mean[:, None] + 0.3)
        backbeats = np.array([1, 3]) if beats == 4 else np.arange(1, beats)
        early = (first - offset) % beats if first is not None else np.inf
        marks = (
            log[0, 0],
            float(log[1, backbeats].mean()) if len(backbeats) else 0.0,
            log[3, 0],
            float(min(early, beats - early) < _FIRST) if first is not None else 0.0,
        )
        odds[offset] = float(np.dot(_BAR_WEIGHTS, marks))
    return odds
