"""A take: one recorded performance, one Standard MIDI File."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from evenhand.columns import Brief, Ints
from evenhand.errors import MidiFileError
from evenhand.take.files import check_outputs, write_files
from evenhand.take.hits import Hits
from evenhand.take.meter import MeterMap, read_meter
from evenhand.take.reading import read_bytes
from evenhand.take.smf import Smf, parse_file
from evenhand.take.tempo import TempoMap, read_tempo
from evenhand.take.timeline import Timeline

if TYPE_CHECKING:
    import mido
    import pretty_midi

_T = TypeVar("_T")

#: Most hits of a take. Common practice; it bounds time and memory (docs/reliability.md).
MOST_HITS = 80_000

#: Channel 10 as it stands in the bytes (General MIDI Level 1: the percussion channel).
DRUM_CHANNEL = 9


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
        """
        counts = np.zeros(16, np.int64)
        for track in self.smf.tracks:
            counts += np.bincount(track.status[track.note_ons()] & 0x0F, minlength=16)
        used = np.flatnonzero(counts)
        listed = ", ".join(f"{one + 1} ({counts[one]} notes)" for one in used)
        if not len(used):
            raise MidiFileError(f"{self.name}: there are no notes in it, so no drums either")
        if channel is not None:
            if not counts[channel - 1]:
                raise MidiFileError(
                    f"{self.name}: no notes on channel {channel}; there are some on {listed}"
                )
            return channel - 1
        if counts[DRUM_CHANNEL]:
            return DRUM_CHANNEL
        if len(used) == 1:
            return int(used[0])
        raise MidiFileError(
            f"{self.name}: no drums on channel 10, but notes on channels {listed}; "
            "say which one with --channel"
        )

    def hits(self, channel: int | None = None) -> Hits:
        """All hits on the drum channel in file order (see `drum_channel`)."""
        drums = self.drum_channel(channel)
        picked = [
            np.flatnonzero(track.note_ons() & track.on_channel(drums)) for track in self.smf.tracks
        ]

        def column(name: str) -> Ints:
            parts = [
                getattr(track, name)[events].astype(np.int64)
                for track, events in zip(self.smf.tracks, picked, strict=True)
            ]
            return np.concatenate(parts)

        total = sum(map(len, picked))
        if total > MOST_HITS:
            raise MidiFileError(
                f"{self.name}: there are {total} hits in it, and a take has {MOST_HITS} at the "
                "most (three hours without a pause); cut it into parts"
            )
        tick = column("tick")
        counts = [len(events) for events in picked]
        nameless = np.full(len(tick), "", "<U12")
        return Hits(
            tick=tick,
            ms=self.tempo.to_ms(tick),
            note=column("data1"),
            velocity=column("data2"),
            channel=np.full(len(tick), drums, np.int64),
            track=np.repeat(np.arange(len(counts)), counts),
            event=np.concatenate(picked).astype(np.int64),
            piece=nameless,
            role=nameless,
        )

    def retimed(self, ticks: Sequence[Ints]) -> Take:
        """Return a take with each track's events at other times (see `Track.retimed`)."""
        return self._named(lambda smf: replace(self, smf=smf.retimed(ticks)))

    def finer(self, division: int | None) -> Take:
        """Return the same music with a finer division; None leaves it as it is."""
        if division is None:
            return self
        return self._named(lambda smf: replace(self, smf=smf.finer(division)))

    def to_bytes(self) -> bytes:
        """The whole file; for a take that was not changed, exactly the bytes that were read."""
        return self.smf.to_bytes()

    def save(self, path: str | Path, overwrite: bool = False) -> None:
        """Write the take to a file, whole or not at all.

        Raises
        ------
        DiskError
            If the file exists (without `overwrite`) or can't be written.
        """
        check_outputs([Path(path)], [], overwrite)
        write_files({Path(path): self.to_bytes()}, overwrite)

    def to_mido(self) -> mido.MidiFile:
        """The take as a `mido.MidiFile` (which drops unknown chunks)."""
        import mido

        return mido.MidiFile(file=io.BytesIO(self.to_bytes()))

    def to_pretty_midi(self) -> pretty_midi.PrettyMIDI:
        """The take as a `pretty_midi.PrettyMIDI` (notes, tempo and meter only)."""
        import pretty_midi

        return pretty_midi.PrettyMIDI(io.BytesIO(self.to_bytes()))

    @staticmethod
    def from_bytes(data: bytes, name: str = "take") -> Take:
        """Take a file's bytes apart.

        Raises
        ------
        MidiFileError
            If they are not a Standard MIDI File of type 0 or 1, or damaged.
        """
        try:
            return Take(name, parse_file(data))
        except MidiFileError as error:
            raise MidiFileError(f"{name}: {error}") from None

    @staticmethod
    def from_mido(midi: mido.MidiFile, name: str = "take") -> Take:
        """Take a `mido.MidiFile` over as it would be saved."""
        buffer = io.BytesIO()
        midi.save(file=buffer)
        return Take.from_bytes(buffer.getvalue(), name)

    @staticmethod
    def from_pretty_midi(midi: pretty_midi.PrettyMIDI, name: str = "take") -> Take:
        """Take a `pretty_midi.PrettyMIDI` over as it would be saved."""
        buffer = io.BytesIO()
        midi.write(buffer)
        return Take.from_bytes(buffer.getvalue(), name)

    def _named(self, work: Callable[[Smf], _T]) -> _T:
        """Do some work on the file; what goes wrong is told with the take's name."""
        try:
            return work(self.smf)
        except MidiFileError as error:
            raise MidiFileError(f"{self.name}: {error}") from None


def read_take(path: str | Path) -> Take:
    """Read a take from a Standard MIDI File.

    Parameters
    ----------
    path : str or Path

    Raises
    ------
    DiskError
        If the file can't be read.
    MidiFileError
        If it is not a Standard MIDI File of type 0 or 1, or damaged.

    Examples
    --------
    >>> take = read_take("take.mid")  # doctest: +SKIP
    >>> len(take.hits())  # doctest: +SKIP
    1428
    """
    return Take.from_bytes(read_bytes(Path(path)), str(path))
