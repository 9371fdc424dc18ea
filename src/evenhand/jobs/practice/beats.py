"""The pulse of a take: when its beats were struck, and how steadily.

A beat is struck where a hit lies on its line; of several hits it is their middle. Beats that
nobody strikes are laid between their neighbours, unless there are too many in a row.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.ground import Ground
from evenhand.jobs.practice.wander import exponent, fluctuations
from evenhand.kit import ACCENT, ANCHOR, FILL, TIMEKEEPER
from evenhand.measure import Measured
from evenhand.robust import medians

#: Beats over which the pulse may stray: four bars of 4/4. Common practice: songs move in these.
STRAY_BEATS = 16

#: Fewest struck beats for a stray or a drift.
FEWEST_BEATS = 32

#: As many beats in a row may go without a hit; more break the pulse. Common practice: less than a
#: bar of 4/4.
_MOST_MISSED = 3

_ON_BEAT = 0.01
_ROLES = (ANCHOR, TIMEKEEPER, ACCENT, FILL)


@dataclass(frozen=True, eq=False)
class Pulse:
    """The struck beats of a take in time order, n of them.

    Attributes
    ----------
    beat : int64 array
        Counted from the start of the file, rising.
    ms : float64 array
        When each was struck.
    off : float64 array
        From its line, ms; minus is early.
    """

    beat: Ints
    ms: Floats
    off: Floats

    def __len__(self) -> int:
        return len(self.beat)


@dataclass(frozen=True)
class Steadiness:
    """How steadily a pulse is held; NaN where there are too few beats to tell.

    Attributes
    ----------
    beats : int
        Beats of the longest stretch without a break.
    stray_ms : float
        How far the beats stray from a straight line, in windows of `STRAY_BEATS`, ms.
    wander : float
        Exponent of the intervals (see `evenhand.jobs.practice.wander`).
    wander_off : float
        Exponent of the deviations from the click; NaN without one.
    drift_ms : float
        How much later the last third is played against the click than the first; NaN without one.
    drift_percent : float
        How much faster the last third is than the first; NaN with a click.
    """

    beats: int
    stray_ms: float
    wander: float
    wander_off: float
    drift_ms: float
    drift_percent: float


def find_pulse(ground: Ground, measured: Measured) -> Pulse:
    """Find the struck beats.

    Parameters
    ----------
    ground : Ground
    measured : Measured
    """
    meter = ground.take.meter
    line = measured.line
    bars = meter.bars_at(line)
    inside = (line - bars.start) / bars.beat_ticks
    on_beat = np.abs(inside - np.rint(inside)) < _ON_BEAT
    picked = np.flatnonzero(on_beat & measured.lined & np.isin(ground.hits.role, _ROLES))
    # Beats are counted through all meters; what a new meter cuts off counts for a whole beat.
    beat_ticks = 4.0 * meter.division / meter.unit
    counted = np.ceil(np.diff(meter.tick) / beat_ticks[:-1])
    passed = np.append(0, np.cumsum(counted))
    here = np.searchsorted(meter.tick, line[picked], side="right") - 1
    inside = np.rint((line[picked] - meter.tick[here]) / beat_ticks[here])
    number = (passed[here] + inside).astype(np.int64)
    beat, group = np.unique(number, return_inverse=True)
    off = medians(measured.deviation[picked], group, len(beat))
    return Pulse(beat, medians(_ms(ground, picked), group, len(beat)), off)


def _ms(ground: Ground, picked: Ints) -> Floats:
    return ground.take.tempo.to_ms(ground.tick[picked])


def find_steadiness(pulse: Pulse, click: bool) -> Steadiness:
    """Measure a pulse.

    Parameters
    ----------
    pulse : Pulse
    click : bool
        Whether it was played to the lines; otherwise the lines were laid under what was played,
        and tell nothing about it.
    """
    nan = float("nan")
    if not len(pulse):
        return Steadiness(0, nan, nan, nan, nan, nan)
    run = _longest(pulse)
    beat = pulse.beat[run]
    place = np.arange(beat[0], beat[-1] + 1)
    series = np.interp(place, beat, (pulse.off if click else pulse.ms)[run])
    steps = np.diff(series)
    enough = len(place) >= FEWEST_BEATS
    drift = _drift(pulse, click) if len(pulse) >= FEWEST_BEATS else nan
    return Steadiness(
        beats=len(place),
        stray_ms=float(fluctuations(steps, [STRAY_BEATS])[0]) if enough else nan,
        wander=exponent(steps),
        wander_off=exponent(series) if click else nan,
        drift_ms=drift if click else nan,
        drift_percent=nan if click else drift,
    )


def _longest(pulse: Pulse) -> slice:
    """Where the longest stretch without a break stands in the pulse."""
    cut = np.flatnonzero(np.diff(pulse.beat) > _MOST_MISSED + 1) + 1
    begin, end = np.append(0, cut), np.append(cut, len(pulse))
    longest = int(np.argmax(pulse.beat[end - 1] - pulse.beat[begin]))
    return slice(int(begin[longest]), int(end[longest]))


def _drift(pulse: Pulse, click: bool) -> float:
    """From the first third of the struck beats to the last: ms with a click, percent without."""
    third = len(pulse) // 3
    if click:
        return float(np.median(pulse.off[-third:]) - np.median(pulse.off[:third]))
    first, last = (
        np.polyfit(pulse.beat[part] - pulse.beat[part][0], pulse.ms[part], 1)[0]
        for part in (slice(None, third), slice(-third, None))
    )
    # The time of a beat is one over the tempo.
    return float(100 * (first / last - 1))
