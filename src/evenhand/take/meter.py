"""Meter: bars and beats, and the positions `bar:beat` that people write."""

import re
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from evenhand.columns import Brief, Floats, Ints, latest, spread_over
from evenhand.errors import MidiFileError, SettingError
from evenhand.take.smf import Smf
from evenhand.take.track import METER

#: The smallest note value that may count as a beat: 1/64.
_SMALLEST_BEAT = 6

#: Beats are written with three places; a written place stands for all that would be written so.
BEAT_PLACES = 3
_BEAT_SLACK = 10.0**-BEAT_PLACES


class Position(NamedTuple):
    """A place in the music: bar and beat, both from 1, the beat as a decimal."""

    bar: int
    beat: float

    def __str__(self) -> str:
        return f"{self.bar}:{self.beat:.{BEAT_PLACES}f}".rstrip("0").rstrip(".")


def parse_position(text: str) -> Position:
    """Read `bar:beat`.

    Parameters
    ----------
    text : str
        Both from 1; the beat may have a fraction.

    Raises
    ------
    SettingError
        If it is anything else.

    Examples
    --------
    >>> parse_position("17:4.5")
    Position(bar=17, beat=4.5)
    """
    match = re.fullmatch(r"\s*([0-9]{1,9}):([0-9]{1,9}(?:\.[0-9]{1,9})?)\s*", text)
    if not match or int(match[1]) < 1 or float(match[2]) < 1:
        raise SettingError(
            f"{text.strip()!r} is not a position; write bar:beat, both from 1, such as 17:4.5"
        )
    return Position(int(match[1]), float(match[2]))


@dataclass(frozen=True, eq=False)
class Bars(Brief):
    """The bar around each of n places.

    Attributes
    ----------
    number : int64 array
        From 1; 0 and below before tick 0.
    start, stop : float64 arrays
        Ticks; a bar that a new meter cuts off stops there.
    beat_ticks : float64 array
        Length of a beat in ticks.
    """

    number: Ints
    start: Floats
    stop: Floats
    beat_ticks: Floats


@dataclass(frozen=True, eq=False)
class MeterMap(Brief):
    """Bars and beats under the meter changes of a file; every change begins a bar.

    Attributes
    ----------
    tick : int64 array, shape (n,)
        Where each meter begins; the first is 0.
    beats : int64 array, shape (n,)
        Beats per bar (upper number).
    unit : int64 array, shape (n,)
        Note value of the beat (lower number: 4 is a quarter).
    bar : int64 array, shape (n,)
        Number of the first bar of each meter.
    division : int
        Ticks per quarter note.
    """

    tick: Ints
    beats: Ints
    unit: Ints
    bar: Ints
    division: int

    def bars_at(self, tick: npt.ArrayLike) -> Bars:
        """The bar around each place, by arithmetic alone: no list of bars is ever made.

        Parameters
        ----------
        tick : array of float
            Places, shape (n,) or a single one.
        """
        ticks = np.asarray(tick, np.float64)
        here = latest(self.tick, ticks)
        begin, end, beat_ticks, bar_ticks = (column[here] for column in self._lengths)
        count = np.floor((ticks - begin) / bar_ticks)
        start = begin + count * bar_ticks
        stop = start + bar_ticks
        if len(self.tick) > 1:
            stop = np.minimum(stop, end)
        number = self.bar[here] + count.astype(np.int64)
        return Bars(number, start, stop, spread_over(beat_ticks, ticks))

    @cached_property
    def _lengths(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Where each meter begins and ends; its beats and bars; ticks."""
        begin = self.tick.astype(np.float64)
        beat_ticks = 4.0 * self.division / self.unit
        return begin, np.append(begin[1:], np.inf), beat_ticks, self.beats * beat_ticks

    def place(self, tick: npt.ArrayLike) -> tuple[Ints, Floats]:
        """Bar and beat of each place, the beat rounded to the three places it is written with.

        Parameters
        ----------
        tick : array of float
            Places, shape (n,) or a single one.
        """
        ticks = np.asarray(tick, np.float64)
        bars = self.bars_at(ticks)
        beat = np.round(1 + (ticks - bars.start) / bars.beat_ticks, BEAT_PLACES)
        full = np.round(1 + (bars.stop - bars.start) / bars.beat_ticks, BEAT_PLACES)
        over = beat >= full
        return bars.number + over, np.where(over, 1.0, beat)

    def position(self, tick: float) -> Position:
        """Bar and beat of one place.

        Parameters
        ----------
        tick : float
        """
        bar, beat = self.place(tick)
        return Position(int(bar), float(beat))

    def to_tick(self, position: Position) -> float:
        """The tick of a position, unrounded.

        Parameters
        ----------
        position : Position

        Raises
        ------
        SettingError
            If the bar has no such beat.
        """
        here = int(np.searchsorted(self.bar, position.bar, side="right")) - 1
        beats, unit = int(self.beats[here]), int(self.unit[here])
        if position.beat >= beats + 1:
            raise SettingError(f"{position}: bar {position.bar} has {beats} beats ({beats}/{unit})")
        in_beats = (position.bar - int(self.bar[here])) * beats + position.beat - 1
        return float(self.tick[here] + in_beats * 4 * self.division / unit)

    def stretch(self, first: Position, last: Position) -> tuple[float, float]:
        """Ticks from `first` to `last`, both included as they are written (three places).

        Parameters
        ----------
        first : Position
        last : Position
        """
        ends = []
        for position, slack in ((first, -_BEAT_SLACK), (last, _BEAT_SLACK)):
            tick = self.to_tick(position)
            ends.append(tick + slack * float(self.bars_at(tick).beat_ticks))
        return ends[0], ends[1]


def read_meter(smf: Smf) -> MeterMap:
    """Collect the meter changes of all tracks; 4/4 until the first.

    Of several meters at one tick in one track the last counts; between tracks the one with the
    longest bar, so that the order of tracks does not matter.

    Raises
    ------
    MidiFileError
        If a meter has no beats, a beat shorter than 1/64, or is cut short.
    """
    at: dict[int, tuple[int, int]] = {0: (4, 4)}
    said: set[int] = set()
    for track in smf.tracks:
        in_track: dict[int, tuple[int, int]] = {}
        for tick, payload in track.metas(METER):
            if len(payload) < 2 or not payload[0] or payload[1] > _SMALLEST_BEAT:
                shown = " ".join(f"{byte:02X}" for byte in payload[:4]) or "nothing"
                raise MidiFileError(f"the meter change at tick {tick} makes no sense ({shown})")
            in_track[tick] = (payload[0], 1 << payload[1])
        for tick, meter in in_track.items():
            at[tick] = max(meter, at[tick], key=_bar_length) if tick in said else meter
        said.update(in_track)
    ticks = sorted(at)
    bars = [1]
    for begin, end in pairwise(ticks):
        beats, unit = at[begin]
        bars.append(bars[-1] + -((begin - end) * unit // (beats * 4 * smf.division)))
    return MeterMap(
        np.array(ticks, np.int64),
        np.array([at[tick][0] for tick in ticks], np.int64),
        np.array([at[tick][1] for tick in ticks], np.int64),
        np.array(bars, np.int64),
        smf.division,
    )


def _bar_length(meter: tuple[int, int]) -> tuple[float, int]:
    beats, unit = meter
    return beats / unit, unit
