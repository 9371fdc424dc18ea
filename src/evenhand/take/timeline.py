"""Where and when: the tempo and the meter of a take, side by side."""

from dataclasses import dataclass

import numpy.typing as npt

from evenhand.columns import Brief, Floats, Ints
from evenhand.take.meter import Bars, MeterMap, Position
from evenhand.take.tempo import TempoMap


@dataclass(frozen=True, eq=False)
class Timeline(Brief):
    """Ticks to ms, bars and beats, and back.

    Attributes
    ----------
    tempo : TempoMap
    meter : MeterMap
    """

    tempo: TempoMap
    meter: MeterMap

    @property
    def division(self) -> int:
        """Ticks per quarter note."""
        return self.meter.division

    def ms(self, tick: npt.ArrayLike) -> Floats:
        """Milliseconds from the start of the file.

        Parameters
        ----------
        tick : array of float
            Places, shape (n,) or a single one.
        """
        return self.tempo.to_ms(tick)

    def tick(self, ms: npt.ArrayLike) -> Floats:
        """Ticks, unrounded: the inverse of `ms`.

        Parameters
        ----------
        ms : array of float
            Times, shape (n,) or a single one.
        """
        return self.tempo.to_tick(ms)

    def between(self, line: npt.ArrayLike, tick: npt.ArrayLike) -> Floats:
        """Milliseconds from one place to another; minus where the other comes first.

        Parameters
        ----------
        line, tick : arrays of float
            From where to where, ticks.
        """
        return self.ms(tick) - self.ms(line)

    def shift(self, tick: Floats, ms: Floats) -> Floats:
        """Some ms from each place on, in ticks, unrounded.

        Parameters
        ----------
        tick : float64 array, shape (n,)
        ms : float64 array, shape (n,)
            Minus goes back.
        """
        return self.tick(self.ms(tick) + ms) - tick

    def bars_at(self, tick: npt.ArrayLike) -> Bars:
        """The bar around each place.

        Parameters
        ----------
        tick : array of float
            Places, shape (n,) or a single one.
        """
        return self.meter.bars_at(tick)

    def beat_ms(self, tick: npt.ArrayLike) -> Floats:
        """Length of a beat at each place, ms.

        Parameters
        ----------
        tick : array of float
            Places, shape (n,) or a single one.
        """
        return self.meter.bars_at(tick).beat_ticks * self.tempo.ms_per_tick_at(tick)

    def place(self, tick: npt.ArrayLike) -> tuple[Ints, Floats]:
        """Bar and beat of each place, the beat rounded to the three places it is written with.

        Parameters
        ----------
        tick : array of float
            Places, shape (n,) or a single one.
        """
        return self.meter.place(tick)

    def position(self, tick: float) -> Position:
        """Bar and beat of one place.

        Parameters
        ----------
        tick : float
        """
        return self.meter.position(tick)
