"""Which of the tempi that would do is the one that people count.

Hits that recur at one tempo recur at its half, double, third and so on too. Which of these is the
beat is told by a few marks, weighed by a conditional logistic regression (McFadden 1974, in
Zarembka (ed.), Frontiers in Econometrics, 105-142): a way to count gets the sum of its marks times
their weights, and a chance in proportion to the exponential of that. The weights were learnt on
the tuning part of the takes (docs/assess.md); `tests/evaluation/learn_marks.py` learns them again.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats
from evenhand.grid import STRAIGHT, choose_grid
from evenhand.pulse.phase import find_phase
from evenhand.pulse.recurrence import FASTEST, SLOWEST, Onsets, coherence, recurrence

_SWINGING = "swung sixteenths"

#: The marks of a way to count, and what they weigh.
WEIGHTS = {
    # How much hits recur at the beat and its parts (log, as in grid/pulse.py).
    "recurrence": 6.088,
    # How far the beat is from the usual pace: octaves, squared.
    "odd pace": -1.962,
    # 1 where the sixteenths swing and no backbeat shows: then they are eighths of twice the tempo.
    _SWINGING: -3.583,
    # The share of the beats that have a kick.
    "kicks": 7.895,
    # The share of the beats that the snare is struck on.
    "backbeats": 2.601,
    # How much the anchors of the snare recur at eighths (log).
    "snares": 0.576,
}

# How the ways that are looked at relate to the one at which hits recur most.
_RATIOS = (1 / 4, 1 / 3, 1 / 2, 2 / 3, 3 / 4, 1.0, 4 / 3, 3 / 2, 2.0, 3.0, 4.0)
# The usual pace, beats per second (108 bpm).
_USUAL = 1.8
_FLOOR = 0.05
# Swung sixteenths without a backbeat: jazz time has no backbeat, while music that swings its
# sixteenths lives on one. Percent of swing, and coherence of the snare at every second beat.
_SWUNG, _BACKBEAT = 58.0, 0.2
_TWO_TO_ONE = 200 / 3
# How near to a beat the snare is on it, in beats.
_ON_BEAT = 0.12
# A way this much worse than the best (log-odds) is out of the race.
_OUT = 4.0


@dataclass(frozen=True)
class Way:
    """A way to count a take.

    Attributes
    ----------
    frequency : float
        Of the beat, Hz.
    chance : float
        Its probability among the ways that were looked at, 0 to 1.
    swing : float
        Of its sixteenths where no backbeat shows, percent; 50 if there is none or it wasn't
        looked for.
    """

    frequency: float
    chance: float
    swing: float


def ways_to_count(onsets: Onsets, frequency: float) -> list[Way]:
    """Find the ways to count a take, likeliest first.

    Parameters
    ----------
    onsets : Onsets
    frequency : float
        At which hits recur most, Hz.
    """
    frequencies = frequencies_of(frequency)
    table, phases, may_swing = _plain_marks(onsets, frequencies)
    odds = table @ np.array(list(WEIGHTS.values()))
    swing = np.full(len(frequencies), STRAIGHT)
    best = -np.inf
    for at in np.argsort(-odds, kind="stable"):
        # Looking for swing takes longest: only where it could matter.
        if may_swing[at] and odds[at] > best - _OUT:
            swing[at] = _swing(onsets, float(frequencies[at]), phases[at])
            odds[at] += WEIGHTS[_SWINGING] * (swing[at] >= _SWUNG)
        best = max(best, float(odds[at]))
    chance = np.exp(odds - odds.max())
    chance /= chance.sum()
    order = np.argsort(-chance, kind="stable")
    return [Way(float(frequencies[at]), float(chance[at]), float(swing[at])) for at in order]


def frequencies_of(frequency: float) -> Floats:
    """The frequencies that a beat could have if hits recur most at one, Hz."""
    ways = frequency * np.array(_RATIOS)
    return np.asarray(ways[(ways >= SLOWEST / 60) & (ways <= FASTEST / 60)])


def marks(onsets: Onsets, frequencies: Floats) -> Floats:
    """The marks of ways to count, one row for each frequency, one column for each of `WEIGHTS`."""
    table, phases, may_swing = _plain_marks(onsets, frequencies)
    swinging = list(WEIGHTS).index(_SWINGING)
    for at in np.flatnonzero(may_swing):
        table[at, swinging] = _swing(onsets, float(frequencies[at]), phases[at]) >= _SWUNG
    return table


def _plain_marks(onsets: Onsets, frequencies: Floats) -> tuple[Floats, list[float], Bools]:
    """The marks without the one for swing; phases of the beat; where there may be swing."""
    snare = coherence(
        onsets.s[onsets.snare],
        onsets.weight[onsets.snare],
        frequencies * np.array([[2.0], [0.5]]),
    )
    phases = [find_phase(onsets, float(one))[0] for one in frequencies]
    both = list(zip(frequencies.tolist(), phases, strict=True))
    kicks = [_struck(onsets, onsets.kick, one, at, 0.5) for one, at in both]
    backs = [_struck(onsets, onsets.snare, one, at, _ON_BEAT) for one, at in both]
    columns = {
        "recurrence": recurrence(onsets, frequencies),
        "odd pace": np.log2(frequencies / _USUAL) ** 2,
        _SWINGING: np.zeros(len(frequencies)),
        "kicks": np.array(kicks),
        "backbeats": np.array(backs),
        "snares": np.log(snare[0] + _FLOOR),
    }
    may_swing = (snare[1] < _BACKBEAT) & (120 * frequencies <= FASTEST)
    return np.column_stack([columns[name] for name in WEIGHTS]), phases, may_swing


def _swing(onsets: Onsets, frequency: float, phase: float) -> float:
    """How much the sixteenths swing, percent; where they are in three, two to one."""
    telling = onsets.kick | onsets.snare | onsets.keeper
    choice = choose_grid(onsets.s[telling] * frequency - phase, 1000 / frequency)
    if choice.grid == "1/16T":
        return _TWO_TO_ONE
    return choice.swing if choice.grid == "1/16" else STRAIGHT


def _struck(onsets: Onsets, which: Bools, frequency: float, phase: float, within: float) -> float:
    """The share of the beats that have one of some hits within so much of a beat of them."""
    place = onsets.s * frequency - phase
    beats = max(float(place[-1] - place[0]), 1.0)
    there = place[which]
    there = there[np.abs(there - np.rint(there)) <= within]
    return len(np.unique(np.rint(there))) / beats
