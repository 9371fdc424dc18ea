"""The sheet: everything on the drum channel, as it goes from the take into the folder."""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Bools, Ints, Words
from evenhand.jobs.triggers.pads import opening_of, pads
from evenhand.kit import KitMap
from evenhand.take import Hits, Take

NOTE_OFF, NOTE_ON, PRESSURE, CONTROL = 0x80, 0x90, 0xA0, 0xB0

#: The control change that carries the position of the hat's pedal ("foot controller" in the MIDI
#: 1.0 list of controllers, from memory; seen in the takes of the Groove MIDI Dataset).
PEDAL_CONTROL = 4

#: A note without an end.
STUCK = -1


@dataclass(frozen=True, eq=False)
class Controls:
    """Channel events that are no notes, in time order: tick, status (upper half) and data."""

    tick: Ints
    status: Ints
    data1: Ints
    data2: Ints


@dataclass(frozen=True, eq=False)
class Sheet:
    """The hits that are left, n of them in file order, and what goes with them.

    Attributes
    ----------
    take : Take
        Where tempo and meter are from.
    hits : Hits
        With pieces named.
    number : int64 array, shape (n,)
        The hit's number in the take as read, from 1.
    zone : str array, shape (n,)
        By the kit map; empty where it names none.
    pad : str array, shape (n,)
    opening : str array, shape (n,)
        `closed`, `half` or `open` for a hit on the hat, empty for others.
    pedal : int64 array, shape (n,)
        The hat's pedal (control change 4) at the hit; -1 before it is heard of.
    length : int64 array, shape (n,)
        Ticks from note-on to note-off; `STUCK` where there is none.
    controls : Controls
    """

    take: Take
    hits: Hits
    number: Ints
    zone: Words
    pad: Words
    opening: Words
    pedal: Ints
    length: Ints
    controls: Controls

    def __len__(self) -> int:
        return len(self.hits)

    def only(self, keep: Bools | Ints) -> "Sheet":
        """The same sheet with some of its hits, or all in another order."""
        hits = Hits(**{name: column[keep] for name, column in vars(self.hits).items()})
        return replace(
            self,
            hits=hits,
            number=self.number[keep],
            zone=self.zone[keep],
            pad=self.pad[keep],
            opening=self.opening[keep],
            pedal=self.pedal[keep],
            length=self.length[keep],
        )


def read_sheet(take: Take, kit: KitMap, channel: int | None = None) -> Sheet:
    """Collect the drums of a take.

    Parameters
    ----------
    take : Take
    kit : KitMap
    channel : int, optional
        1 to 16; found if not given.

    Raises
    ------
    MidiFileError
        If the take has no drums.
    """
    hits = take.struck(channel)
    controls = _read_controls(take, int(hits.channel[0]))
    return make_sheet(take, kit, hits, _read_lengths(take, hits), controls)


def make_sheet(take: Take, kit: KitMap, hits: Hits, length: Ints, controls: Controls) -> Sheet:
    """Name what was struck, and number the hits as they stand."""
    zones = [kit.sounds[one].zone if one in kit.sounds else "" for one in range(128)]
    openings = [opening_of(kit.sounds[one]) if one in kit.sounds else "" for one in range(128)]
    return Sheet(
        take=take,
        hits=replace(hits, piece=kit.pieces(hits.note)),
        number=np.arange(1, len(hits) + 1),
        zone=np.array(zones)[hits.note],
        pad=pads(kit, hits.note),
        opening=np.array(openings)[hits.note],
        pedal=_pedal_at(hits.tick, controls),
        length=length,
        controls=controls,
    )


def _read_controls(take: Take, channel: int) -> Controls:
    columns = []
    for track in take.smf.tracks:
        kind = track.status & 0xF0
        mine = track.on_channel(channel) & (kind != NOTE_ON) & (kind != NOTE_OFF)
        columns.append(
            np.stack(
                [
                    track.tick[mine],
                    kind[mine].astype(np.int64),
                    track.data1[mine].astype(np.int64),
                    track.data2[mine].astype(np.int64),
                ]
            )
        )
    table = np.concatenate(columns, axis=1)
    return Controls(*table[:, np.argsort(table[0], kind="stable")])


def _pedal_at(tick: Ints, controls: Controls) -> Ints:
    mine = (controls.status == CONTROL) & (controls.data1 == PEDAL_CONTROL)
    here = np.searchsorted(controls.tick[mine], tick, side="right")
    return np.append(-1, controls.data2[mine])[here]


def _read_lengths(take: Take, hits: Hits) -> Ints:
    """The ticks to each hit's note-off.

    A note-off ends the last note-on of its number that still sounds, so that one that is missing
    leaves one stuck note and not a chain of wrong ones.
    """
    length = np.full(len(hits), STUCK, np.int64)
    for number, track in enumerate(take.smf.tracks):
        kind = track.status & 0xF0
        notes = track.on_channel(int(hits.channel[0])) & ((kind == NOTE_ON) | (kind == NOTE_OFF))
        begins = track.note_ons()
        hit = int(np.searchsorted(hits.track, number))
        sounding: dict[int, list[tuple[int, int]]] = {}
        events = np.flatnonzero(notes)
        for tick, note, begin in zip(
            track.tick[events].tolist(),
            track.data1[events].tolist(),
            begins[events].tolist(),
            strict=True,
        ):
            open_notes = sounding.setdefault(note, [])
            if begin:
                open_notes.append((hit, tick))
                hit += 1
            elif open_notes:
                ended, since = open_notes.pop()
                length[ended] = tick - since
    return length
