"""Tempo: ticks to milliseconds and back."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from evenhand.columns import Brief, Floats, Ints, latest, spread_over
from evenhand.errors import MidiFileError
from evenhand.take.smf import Smf
from evenhand.take.track import TEMPO

#: Microseconds per quarter note where a file says nothing: 120 bpm (RP-001).
DEFAULT_TEMPO = 500_000


@dataclass(frozen=True, eq=False)
class TempoMap(Brief):
    """Times under the tempo changes of a file.

    Attributes
    ----------
    tick : int64 array, shape (n,)
        Where each tempo begins; the first is 0.
    tempo : int64 array, shape (n,)
        Microseconds per quarter note from there on.
    ms : float64 array, shape (n,)
        The same places in ms.
    division : int
        Ticks per quarter note.
    """

    tick: Ints
    tempo: Ints
    ms: Floats
    division: int

    def to_ms(self, tick: npt.ArrayLike) -> Floats:
        """Milliseconds from the start of the file; before tick 0 the first tempo goes on.

        Parameters
        ----------
        tick : array of float
            Places, shape (n,) or a single one.
        """
        ticks = np.asarray(tick, np.float64)
        if len(self.tick) == 1:
            # Most takes have one tempo, from 0 on.
            return np.asarray(ticks * self._ms_per_tick[0])
        here = latest(self.tick, ticks)
        return np.asarray(self.ms[here] + (ticks - self.tick[here]) * self.ms_per_tick(here))

    def to_tick(self, ms: npt.ArrayLike) -> Floats:
        """Ticks, unrounded: the inverse of `to_ms`.

        Parameters
        ----------
        ms : array of float
            Times, shape (n,) or a single one.
        """
        times = np.asarray(ms, np.float64)
        here = latest(self.ms, times)
        return np.asarray(self.tick[here] + (times - self.ms[here]) / self.ms_per_tick(here))

    def ms_per_tick(self, here: Ints) -> Floats:
        """Length of a tick in ms under the tempo with each index.

        Parameters
        ----------
        here : int64 array, shape (n,)
            Indices of tempi, from 0.
        """
        return np.asarray(self._ms_per_tick[here])

    @cached_property
    def _ms_per_tick(self) -> Floats:
        return np.asarray(self.tempo / (1000.0 * self.division))

    def ms_per_tick_at(self, tick: npt.ArrayLike) -> Floats:
        """Length of a tick in ms at each place.

        Parameters
        ----------
        tick : array of float
            Places, shape (n,) or a single one.
        """
        ticks = np.asarray(tick, np.float64)
        return spread_over(self._ms_per_tick[latest(self.tick, ticks)], ticks)

    @property
    def bpm(self) -> Floats:
        """Quarter notes per minute of each tempo."""
        return np.asarray(60_000_000.0 / self.tempo)


def read_tempo(smf: Smf) -> TempoMap:
    """Collect the tempo changes of all tracks.

    Of several tempi at one tick in one track the last counts; between tracks the slowest, so that
    the order of tracks does not matter.

    Raises
    ------
    MidiFileError
        If a tempo is zero or cut short.
    """
    at: dict[int, int] = {0: DEFAULT_TEMPO}
    said: set[int] = set()
    for track in smf.tracks:
        in_track: dict[int, int] = {}
        for tick, payload in track.metas(TEMPO):
            tempo = int.from_bytes(payload[:3], "big")
            if len(payload) < 3 or not tempo:
                raise MidiFileError(f"the tempo change at tick {tick} is zero or cut short")
            in_track[tick] = tempo
        for tick, tempo in in_track.items():
            at[tick] = max(tempo, at[tick]) if tick in said else tempo
        said.update(in_track)
    places = sorted(at)
    tick_column = np.array(places, np.int64)
    tempo_column = np.array([at[place] for place in places], np.int64)
    spent = np.diff(tick_column) * (tempo_column[:-1] / (1000.0 * smf.division))
    ms = np.concatenate([[0.0], np.cumsum(spent)])
    return TempoMap(tick_column, tempo_column, ms, smf.division)
