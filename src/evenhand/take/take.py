"""A take: one recorded performance, one Standard MIDI File."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from evenhand.columns import Brief, Ints
from evenhand.errors import MidiFileError
from evenhand.take.channels import find_drums
from evenhand.take.files import check_outputs, write_files
from evenhand.take.hits import Hits, pick_hits
from evenhand.take.meter import MeterMap, read_meter
from evenhand.take.smf import Smf, parse_file
from evenhand.take.tempo import TempoMap, read_tempo
from evenhand.take.timeline import Timeline

if TYPE_CHECKING:
    import mido
    import pretty_midi

_T = TypeVar("_T")


@dataclass(frozen=True, eq=False)
class Take(Brief):
    """One recorded performance; never changed once read.

    Attributes
    ----------
    name : str
        What to call it in messages, usually the file's path.
    smf : Smf
        The file, taken apart without loss.
    """

    name: str
    smf: Smf

    @cached_property
    def tempo(self) -> TempoMap:
        """Ticks to ms and back."""
        return self._named(read_tempo)

    @cached_property
    def meter(self) -> MeterMap:
        """Bars and beats."""
        return self._named(read_meter)

    @cached_property
    def time(self) -> Timeline:
        """Tempo and meter, side by side."""
        return Timeline(self.tempo, self.meter)

    @property
    def division(self) -> int:
        """Ticks per quarter note."""
        return self.smf.division

    @property
    def end(self) -> int:
        """The last tick of the longest track."""
        return max((int(track.tick[-1]) for track in self.smf.tracks if len(track)), default=0)

    def __repr__(self) -> str:
        tracks = len(self.smf.tracks)
        return f"Take({self.name!r}, {tracks} track{'s' * (tracks != 1)}, division {self.division})"

    def drum_channel(self, channel: int | None = None) -> int:
        """Find the channel that holds the drums.

        Parameters
        ----------
        channel : int, optional
            1 to 16, if it is known; otherwise channel 10, or the only one with notes.

        Returns
        -------
        int
            0 to 15.

        Raises
        ------
        MidiFileError
            If there are no notes, or on several channels and none of them is 10.
        SettingError
            If `channel` is not 1 to 16.

        Examples
        --------
        >>> read_take("kettle-weather.mid").drum_channel()
        9
        """
        return self._named(lambda smf: find_drums(smf.tracks, channel))

    def hits(self, channel: int | None = None, kit: str = "ekit") -> Hits:
        """All hits on the drum channel in file order, each with its piece and its role.

        The role is what the kit and the velocity say. A pass finds more: graces and rolls, and
        what its recipe sets (`result.hits`).

        Parameters
        ----------
        channel : int, optional
            1 to 16 (see `drum_channel`).
        kit : str
            `ekit`, `gm`, or the path of a kit file.

        Returns
        -------
        Hits

        Raises
        ------
        MidiFileError
            If there are no drums, or too many hits.
        SettingError
            If `channel` is not 1 to 16, or the kit file makes no sense.
        DiskError
            If the kit file can't be read.

        Examples
        --------
        >>> hits = read_take("kettle-weather.mid").hits()
        >>> len(hits), str(hits.piece[0]), str(hits.role[0]), int(hits.note[0])
        (888, 'hat', 'timekeeper', 44)
        """
        # Upwards, as nothing else is: who asks a take for its hits wants to know what they are.
        from evenhand.kit import label
        from evenhand.recipe import Recipe

        recipe = Recipe(kit=kit)
        hits, _ = label(self.struck(channel), recipe.load_kit(), recipe.anchor)
        return hits

    def struck(self, channel: int | None = None) -> Hits:
        """All hits on the drum channel in file order, pieces and roles still without a name.

        Parameters
        ----------
        channel : int, optional
            1 to 16 (see `drum_channel`).

        Returns
        -------
        Hits

        Raises
        ------
        MidiFileError
            If there are no drums, or too many hits.
        SettingError
            If `channel` is not 1 to 16.

        Examples
        --------
        >>> read_take("kettle-weather.mid").struck()
        Hits(888 hits)
        """
        tempo, drums = self.tempo, self.drum_channel(channel)
        return self._named(lambda smf: pick_hits(smf.tracks, tempo, drums))

    def retimed(self, ticks: Sequence[Ints]) -> Take:
        """Return a take with each track's events at other times; nothing else changes.

        Parameters
        ----------
        ticks : sequence of int64 arrays
            For each track, the new time of each event in ticks; never negative.

        Returns
        -------
        Take

        Raises
        ------
        MidiFileError
            If a pause becomes too long, or an event would split a system-exclusive message.

        Examples
        --------
        >>> take = read_take("kettle-weather.mid")
        >>> later = take.retimed([track.tick + take.division for track in take.smf.tracks])
        >>> later.end - take.end
        480
        """
        return self._named(lambda smf: replace(self, smf=smf.retimed(ticks)))

    def finer(self, division: int | None) -> Take:
        """Return the same music with a finer division.

        Parameters
        ----------
        division : int or None
            Ticks per quarter note: a whole multiple of the take's; None leaves it as it is.

        Returns
        -------
        Take

        Raises
        ------
        MidiFileError
            If it is no multiple, or more than a file can hold.

        Examples
        --------
        >>> read_take("kettle-weather.mid").finer(960).division
        960
        """
        if division is None:
            return self
        return self._named(lambda smf: replace(self, smf=smf.finer(division)))

    def to_bytes(self) -> bytes:
        """The whole file.

        Returns
        -------
        bytes
            For a take that was not changed, exactly those that were read.

        Examples
        --------
        >>> read_take("kettle-weather.mid").to_bytes() == Path("kettle-weather.mid").read_bytes()
        True
        """
        return self.smf.to_bytes()

    def save(self, path: str | Path, overwrite: bool = False) -> None:
        """Write the take to a file, whole or not at all.

        Parameters
        ----------
        path : str or Path
        overwrite : bool
            Whether a file that exists is replaced.

        Raises
        ------
        DiskError
            If the file exists (without `overwrite`) or can't be written.

        Examples
        --------
        >>> read_take("kettle-weather.mid").save("copy.mid", overwrite=True)
        >>> Path("copy.mid").read_bytes() == Path("kettle-weather.mid").read_bytes()
        True
        """
        check_outputs([Path(path)], [], overwrite)
        write_files({Path(path): self.to_bytes()}, overwrite)

    def to_mido(self) -> mido.MidiFile:
        """Convert the take for the library mido, which drops unknown chunks.

        Returns
        -------
        mido.MidiFile
            Its times are ticks.

        Examples
        --------
        >>> read_take("kettle-weather.mid").to_mido().ticks_per_beat
        480
        """
        import mido

        return mido.MidiFile(file=io.BytesIO(self.to_bytes()))

    def to_pretty_midi(self) -> pretty_midi.PrettyMIDI:
        """Convert the take for the library pretty_midi: notes, controllers, tempo and meter.

        Returns
        -------
        pretty_midi.PrettyMIDI
            Its times are seconds.

        Warns
        -----
        LossWarning
            If there are notes that it does not hold, such as one that is never released.

        Raises
        ------
        MidiFileError
            If the take is too long for it.

        Examples
        --------
        >>> len(read_take("kettle-weather.mid").to_pretty_midi().instruments[0].notes)
        888
        """
        from evenhand.take.pretty import to_pretty_midi

        return to_pretty_midi(self)

    @staticmethod
    def from_bytes(data: bytes, name: str = "take") -> Take:
        """Take a file's bytes apart.

        Parameters
        ----------
        data : bytes
            A whole Standard MIDI File.
        name : str
            What to call it in messages.

        Returns
        -------
        Take

        Raises
        ------
        MidiFileError
            If they are not a Standard MIDI File of type 0 or 1, or damaged.

        Examples
        --------
        >>> Take.from_bytes(Path("kettle-weather.mid").read_bytes(), "weather").name
        'weather'
        """
        try:
            return Take(name, parse_file(data))
        except MidiFileError as error:
            raise MidiFileError(f"{name}: {error}") from None

    @staticmethod
    def from_mido(midi: mido.MidiFile, name: str = "take") -> Take:
        """Take a `mido.MidiFile` over as it would be saved.

        Parameters
        ----------
        midi : mido.MidiFile
        name : str
            What to call it in messages.

        Returns
        -------
        Take

        Raises
        ------
        MidiFileError
            If it is of a kind that is not read.

        Examples
        --------
        >>> midi = read_take("kettle-weather.mid").to_mido()
        >>> len(Take.from_mido(midi).hits())
        888
        """
        buffer = io.BytesIO()
        midi.save(file=buffer)
        return Take.from_bytes(buffer.getvalue(), name)

    @staticmethod
    def from_pretty_midi(midi: pretty_midi.PrettyMIDI, name: str = "take") -> Take:
        """Take a `pretty_midi.PrettyMIDI` over as it would be saved.

        Parameters
        ----------
        midi : pretty_midi.PrettyMIDI
        name : str
            What to call it in messages.

        Returns
        -------
        Take

        Raises
        ------
        MidiFileError
            If it can't be read again.

        Examples
        --------
        >>> midi = read_take("kettle-weather.mid").to_pretty_midi()
        >>> len(Take.from_pretty_midi(midi).hits())
        888
        """
        buffer = io.BytesIO()
        midi.write(buffer)
        return Take.from_bytes(buffer.getvalue(), name)

    def _named(self, work: Callable[[Smf], _T]) -> _T:
        """Do some work on the file; what goes wrong is told with the take's name."""
        try:
            return work(self.smf)
        except MidiFileError as error:
            raise MidiFileError(f"{self.name}: {error}") from None
