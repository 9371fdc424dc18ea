"""The song that a take belongs to: a file with its tempo, its meter and its markers."""

import math
import re
from dataclasses import dataclass

from evenhand.errors import MidiFileError, SettingError
from evenhand.take.given import read_take
from evenhand.take.lay import lay
from evenhand.take.meter import parse_position
from evenhand.take.take import Take
from evenhand.take.track import TEMPO

#: Where a take may begin, s: a day on either side of the song's start.
_LARGEST_S = 86_400.0


@dataclass(frozen=True, eq=False)
class Song:
    """A song, and where in it a take begins.

    Attributes
    ----------
    take : Take
        The file; only its tempo, meter and markers count.
    at_ms : float
        Where the start of the take lies, ms from the start of the song.
    """

    take: Take
    at_ms: float = 0.0

    def lay(self, take: Take) -> Take:
        """The take on the song's map (see `lay`).

        Parameters
        ----------
        take : Take
        """
        return lay(take, self.take, self.at_ms)


def read_song(path: str, at: str | None = None) -> Song:
    """Read a song.

    Parameters
    ----------
    path : str
        A Standard MIDI File.
    at : str, optional
        Where the takes begin; see `start_in`.

    Raises
    ------
    DiskError, MidiFileError
        If it can't be read, or has no tempo.
    SettingError
        If the song has no such place.
    """
    return as_song(read_take(path), at)


def as_song(take: Take, at: str | None = None) -> Song:
    """A file that is at hand as a song (see `read_song`).

    Parameters
    ----------
    take : Take
    at : str, optional
        Where in the song the take begins, `bar:beat`.
    """
    if not any(track.metas(TEMPO) for track in take.smf.tracks):
        raise MidiFileError(
            f"{take.name}: there is no tempo in it, so it can't be the song; "
            "save it with its tempo map, or leave --song away"
        )
    return Song(take, start_in(take, at) if at is not None else 0.0)


def start_in(song: Take, at: str) -> float:
    """Where a place lies, in ms from the start of the song.

    Parameters
    ----------
    song : Take
    at : str
        `bar:beat` of the song, or seconds from its start (below 0: before it).

    Raises
    ------
    SettingError
        If it is neither, or the bar has no such beat.

    Examples
    --------
    >>> start_in(song, "17:1")  # doctest: +SKIP
    35555.6
    """
    if ":" in at:
        try:
            return float(song.tempo.to_ms(song.meter.to_tick(parse_position(at))))
        except SettingError as error:
            raise SettingError(f"song-at: {error}") from None
    if re.fullmatch(r"\s*[+-]?(\d+\.?\d*|\.\d+)\s*", at) and math.isfinite(float(at)):
        if abs(float(at)) > _LARGEST_S:
            raise SettingError(f"song-at: {at} s is further than a day from the song's start")
        return 1000 * float(at)
    raise SettingError(
        f"song-at: {at!r} is neither a place in the song, such as 17:1, nor seconds, such as 2.5"
    )
