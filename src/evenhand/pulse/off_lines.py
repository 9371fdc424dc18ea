"""Whether a whole take lies beside its lines: exports start late, recording chains are slow.

Hits gather on some comb of lines; the marks of a beat (kicks, backbeats, crashes, what is loud: see
`phase`) say which line of the comb is the beat, and how usual such a distance is decides with
them. So a take that is 70 ms late is told from one that is 55 ms early, which the comb alone can't.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, median
from evenhand.pulse.phase import find_places
from evenhand.pulse.recurrence import Onsets, gathering

#: A take that lies no further from its lines than this leans; up to the second it may lean or be
#: beside them; ms. Takes played to a click lean by 9 ms ahead, give or take 11 (measured on the
#: takes of the Groove MIDI Dataset), and people tap some tens of ms ahead of a click (Repp 2005).
LEAN_MS, MAY_LEAN_MS = 25.0, 45.0

# What lies further off begins somewhere else in the bar, and is not looked for, s.
_FARTHEST_S = 0.16
# How usual a distance is: leans as measured, or an offset of 20 to 120 ms, mostly late (common
# practice), in one take of ten. Middle, width, share.
_USUAL = ((-9.0, 13.0, 0.9), (20.0, 50.0, 0.1))
# Fewest hits that tell, and how long they go on, s: a fill is no take.
_FEWEST, _SHORTEST_S = 32, 8.0
# Combs by their lines in a quarter: the coarsest that gathers the hits nearly as well as the best.
_COMBS, _NEARLY = (2, 3, 4, 6), 0.9
# Hits this near to a line of the comb say where it lies, share of the gap.
_NEAR = 0.45
# How surely hits must gather on the comb (coherence), and how far a quarter of the take may lie
# from the whole, ms, by its hits near the beat (share of it): what lies beside its lines does so
# steadily.
_GATHERED, _STEADY_MS, _PARTS, _ON_BEAT = 0.25, 30.0, 4, 0.2
# Log-odds below which another place is told too.
_CLEAR = 1.5


@dataclass(frozen=True)
class Beside:
    """Where a whole take lies.

    Attributes
    ----------
    ms : float
        How far behind its lines; minus is ahead.
    rival : float, optional
        Where it could lie as well, ms.
    """

    ms: float
    rival: float | None = None

    @property
    def offset(self) -> float:
        """What lies beside the lines rather than leans, ms; 0 for a lean of a usual size."""
        return self.ms if abs(self.ms) > LEAN_MS else 0.0

    @property
    def may_lean(self) -> bool:
        """Whether it could as well be a large lean."""
        return LEAN_MS < abs(self.ms) <= MAY_LEAN_MS


def find_beside(onsets: Onsets, frequency: float) -> Beside | None:
    """Find how far a whole take lies behind its lines.

    Parameters
    ----------
    onsets : Onsets
        With a beat of the file at 0 s.
    frequency : float
        Of the file's quarters, Hz.

    Returns
    -------
    Beside or None
        None where there is too little to tell it from, or it is not steady.
    """
    tells = onsets.kick | onsets.snare | onsets.keeper
    if tells.sum() < _FEWEST or np.ptp(onsets.s) < _SHORTEST_S:
        return None
    beat = onsets.s[tells] * frequency
    turns = gathering(beat, _COMBS)
    if turns.max() < _GATHERED:
        return None
    steps = _COMBS[int(np.argmax(turns >= _NEARLY * turns.max()))]
    phase, odds = find_places(onsets, frequency, _FARTHEST_S * frequency)
    if not len(phase):
        return None
    middle = np.array([_middle(_off((beat - one) * steps)) for one in phase.tolist()])
    # Half-way between where the hits on the beat lie and where all do: swing parts the two.
    ms = 1000 / frequency * _off(phase + middle / steps / 2)
    odds = odds + _usual(ms)
    order = np.argsort(-odds, kind="stable")
    best = int(order[0])
    if not _steady(1000 / frequency * _off(beat - phase[best]), 1000 / frequency):
        return None
    near = len(order) > 1 and float(odds[best] - odds[order[1]]) < _CLEAR
    return Beside(float(ms[best]), float(ms[order[1]]) if near else None)


def _steady(off: Floats, quarter_ms: float) -> bool:
    """Whether the hits on the beat lie at one place all the way, ms from it."""
    on_beat = off[np.abs(off) < _ON_BEAT * quarter_ms]
    parts = np.array_split(on_beat, _PARTS)
    return len(on_beat) >= _PARTS and max(abs(median(part)) for part in parts) <= _STEADY_MS


def _off(beat: Floats) -> Floats:
    """How far from the nearest whole number."""
    return np.asarray(beat - np.rint(beat))


def _middle(off: Floats) -> float:
    """The middle of what lies near the lines, in gaps."""
    near = off[np.abs(off) < _NEAR]
    return median(near) if len(near) else 0.0


def _usual(ms: Floats) -> Floats:
    """How usual it is that a take lies there: a log-density."""
    parts = [
        share / width * np.exp(-0.5 * ((ms - middle) / width) ** 2)
        for middle, width, share in _USUAL
    ]
    return np.asarray(np.log(np.sum(parts, axis=0) + 1e-12))
