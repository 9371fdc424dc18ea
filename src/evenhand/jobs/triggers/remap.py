"""Mapping: the target's note for each hit, the hat by its pedal, and what cannot be mapped."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Ints, Words
from evenhand.errors import SettingError
from evenhand.jobs.triggers.pads import CLOSED, HALF, HAT, OPEN
from evenhand.jobs.triggers.sheet import Sheet
from evenhand.jobs.triggers.target import Target, shared
from evenhand.kit import KitMap

#: How far the pedal may be from closed (share of its way) for a closed hat, and for one that is
#: half open. In every fourth take of the Groove MIDI Dataset's part used here, nine in ten hits
#: sent as closed (note 42) lie within 0.13 of the way and nine in ten sent as open (46) beyond
#: 0.19; the second bound is common practice.
CLOSED_WITHIN, HALF_WITHIN = 0.15, 0.6


@dataclass(frozen=True)
class Pedal:
    """How to read the hat's pedal.

    Attributes
    ----------
    closed, open : int
        Control value of a pedal that is all down, and one that is all up. `closed` may be the
        smaller one.
    """

    closed: int
    open: int


@dataclass(frozen=True)
class NoteWay:
    """Where one sound went: from note `note` to note `to`, found in the target as `under`."""

    note: int
    sound: str
    opening: str
    to: int
    under: str
    hits: int


def parse_pedal(text: str, pedal: Ints) -> Pedal:
    """Read `auto` or `CLOSED-OPEN`, such as `90-0`.

    Parameters
    ----------
    text : str
    pedal : int64 array
        The pedal at each hit; `auto` takes the largest as closed and 0 as open.

    Raises
    ------
    SettingError
        If it is anything else.
    """
    if text == "auto":
        largest = int(pedal.max(initial=-1))
        if largest < 1:
            raise SettingError("hat-pedal: the take has no pedal positions (control change 4)")
        return Pedal(largest, 0)
    closed, dash, opened = text.partition("-")
    sound = dash and all(one.isascii() and one.isdigit() for one in (closed, opened))
    if not sound or max(int(closed), int(opened)) > 127 or int(closed) == int(opened):
        raise SettingError(
            f"hat-pedal: {text!r} is neither auto nor two control values, closed and open, "
            "such as 90-0"
        )
    return Pedal(int(closed), int(opened))


def openings_by_pedal(sheet: Sheet, pedal: Pedal) -> Words:
    """How far the hat is open at each hit on it, by the pedal; before it is heard of, by the note.

    Parameters
    ----------
    sheet : Sheet
    pedal : Pedal
    """
    way = (sheet.pedal - pedal.closed) / (pedal.open - pedal.closed)
    state = np.where(way <= CLOSED_WITHIN, CLOSED, np.where(way <= HALF_WITHIN, HALF, OPEN))
    known = (sheet.pad == HAT) & (sheet.pedal >= 0)
    return np.where(known, state, sheet.opening)


def map_notes(
    sheet: Sheet, kit: KitMap, target: Target, merge: bool
) -> tuple[Ints, tuple[NoteWay, ...]]:
    """The target's note for each hit.

    Parameters
    ----------
    sheet : Sheet
    kit : KitMap
        The take's.
    target : Target
    merge : bool
        Whether two pieces may come to share a note.

    Returns
    -------
    note : int64 array
    ways : tuple of NoteWay
        By the note that the take has.

    Raises
    ------
    SettingError
        If a piece has no note, or two come to share one.
    """
    note = sheet.hits.note.copy()
    ways = []
    kinds = sorted(set(zip(sheet.hits.note.tolist(), sheet.opening.tolist(), strict=True)))
    for number, opening in kinds:
        mine = (sheet.hits.note == number) & (sheet.opening == opening)
        sound = kit.sounds.get(number)
        found = target.find(number, sound, opening)
        if not found and sound:
            place = sheet.take.meter.position(float(sheet.hits.tick[mine].min()))
            raise SettingError(
                f"{target.name} has no note for {sound.name} (note {number}, first at {place}); "
                f'add "{sound.name}" under [notes] or [instead]'
            )
        to, under = found or (number, "its own number")
        note[mine] = to
        name = sound.name if sound else f"note {number}"
        ways.append(NoteWay(number, name, opening, to, under, int(mine.sum())))
    if not merge:
        _refuse_shared(note, sheet.hits.piece, target.name)
    return note, tuple(ways)


def _refuse_shared(note: Ints, piece: Words, name: str) -> None:
    for one in np.unique(note).tolist():
        pieces = np.unique(piece[note == one]).tolist()
        if len(pieces) > 1:
            raise SettingError(f"{name}: {shared(one, *pieces[:2])}")
