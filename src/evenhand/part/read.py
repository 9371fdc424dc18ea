"""Another player, or a programmed part, as onsets: any channel, any track, drums or not."""

import re
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.errors import MidiFileError, SettingError
from evenhand.kit import KitMap, parse_piece
from evenhand.take import Take

#: Onsets no further apart than this are one: a chord, ms. Common practice.
CHORD_MS = 20.0


@dataclass(frozen=True, eq=False)
class Part:
    """The onsets of a part in time order, n of them.

    Attributes
    ----------
    name : str
    ms : float64 array, shape (n,)
        From the start of the song.
    velocity : int64 array, shape (n,)
    """

    name: str
    ms: Floats
    velocity: Ints

    def __len__(self) -> int:
        return len(self.ms)


def read_part(take: Take, what: str = "", kit: KitMap | None = None) -> Part:
    """Get the onsets of a part from a file.

    Parameters
    ----------
    take : Take
        The file. Its times count, as they are under its own tempo.
    what : str
        A channel (`2`), a track by its number (`track 3`) or its name (`Bass`), or a piece of the
        kit (`snare`); empty for all notes on all channels.
    kit : KitMap, optional
        For pieces.

    Raises
    ------
    MidiFileError
        If there are no onsets.
    SettingError
        If there is no such track.
    """
    channel, track, note = None, None, None
    wanted = what.strip()
    numbered = re.fullmatch(r"track\s*([0-9]{1,5})", wanted, re.IGNORECASE)
    if re.fullmatch(r"[0-9]{1,2}", wanted) and 1 <= int(wanted) <= 16:
        channel = int(wanted) - 1
    elif numbered:
        track = int(numbered[1]) - 1
        if not 0 <= track < len(take.smf.tracks):
            raise SettingError(
                f"against: {take.name} has no track {track + 1}, but 1 to {len(take.smf.tracks)}"
            )
    elif wanted:
        track = _named_track(take, wanted)
        if track is None:
            note, channel = _piece(take, wanted, kit)
    ms, velocity = _notes(take, channel, track, note)
    if not len(ms):
        raise MidiFileError(
            f"{take.name}: there are no onsets {f'on {wanted!r} ' if wanted else ''}in it, so "
            "nothing can be tightened to it"
        )
    order = np.lexsort((velocity, ms))
    ms, velocity = ms[order], velocity[order]
    # The first of a chord is when it begins.
    begins = [0]
    for index in range(1, len(ms)):
        if ms[index] - ms[begins[-1]] > CHORD_MS:
            begins.append(index)
    starts = np.array(begins, np.int64)
    name = f"{take.name}:{wanted}" if wanted else take.name
    return Part(name, ms[starts], np.maximum.reduceat(velocity, starts))


#: Type of a track's name among the meta events (RP-001).
_TRACK_NAME = 0x03


def _named_track(take: Take, wanted: str) -> int | None:
    for index, track in enumerate(take.smf.tracks):
        for _, text in track.metas(_TRACK_NAME):
            if text.decode("utf-8", "replace").strip().casefold() == wanted.casefold():
                return index
    return None


def _piece(take: Take, wanted: str, kit: KitMap | None) -> tuple[Ints, int]:
    """The notes of a piece, and the drum channel."""
    try:
        piece = parse_piece(wanted)
    except SettingError:
        piece = None
    if piece is None or kit is None:
        raise SettingError(
            f"against: {take.name} has no track called {wanted!r}; name a track, a channel from 1 "
            "to 16, or a piece such as snare"
        )
    numbers = np.arange(128)
    return numbers[kit.pieces(numbers) == piece], take.drum_channel()


def _notes(
    take: Take, channel: int | None, track: int | None, note: Ints | None
) -> tuple[Floats, Ints]:
    found: list[Floats] = [np.zeros(0)]
    loud: list[Ints] = [np.zeros(0, np.int64)]
    for index, one in enumerate(take.smf.tracks):
        if track is not None and index != track:
            continue
        which = one.note_ons()
        if channel is not None:
            which = which & one.on_channel(channel)
        if note is not None:
            which = which & np.isin(one.data1, note)
        found.append(take.tempo.to_ms(one.tick[which]))
        loud.append(one.data2[which].astype(np.int64))
    return np.concatenate(found), np.concatenate(loud)
