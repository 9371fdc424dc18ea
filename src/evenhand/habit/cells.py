"""Cells: a piece at a place in the bar; and how often each is struck."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.columns import Floats, Ints, indices, numbered, picked
from evenhand.habit.near import Near

#: Bars on each side that tell what is played nearby. Every second one counts twice, so that
#: patterns of two bars are seen.
_TWICE, _ONCE = (-4, -2, 2, 4), (-3, -1, 1, 3)
_REACH = 4

#: Where cells times bars are more than this, nobody looks at the bars nearby: memory stays in
#: bounds.
_MOST = 1 << 23
#: Slots have a row each in a table of so much room, and so much more for each line near a hit.
_ROOM, _ROOM_EACH = 1 << 18, 8


@dataclass(frozen=True, eq=False)
class Cells:
    """The c cells that the hits of a take may belong to.

    Attributes
    ----------
    cell : int64 array, shape (n, lines)
        The cell that each hit would be in on each of its lines.
    voice, place, kind, pair : int64 arrays, shape (c,)
        The voice of each cell, its place (numbered from 0), its kind, and voice and kind in one
        number from 0.
    pairs : int
        How many of those there are.
    slot : int64 array, shape (n, lines)
        Cell and bar in one number: the key of one line for one voice. The next bar has the next
        one.
    span : int
        What a slot counts for each cell.
    id : int64 array, shape (n, lines)
        The slots as rows of a table: as they are, or numbered where there are too many.
    ids : int
        How many of those there are.
    slots : int64 array, shape (ids,), optional
        The slot of each of those; None where they are the slots themselves.
    bars : float64 array, shape (c,)
        How many bars of its kind there are.
    """

    cell: Ints
    voice: Ints
    place: Ints
    kind: Ints
    pair: Ints
    pairs: int
    slot: Ints
    span: int
    id: Ints
    ids: int
    slots: Ints | None
    bars: Floats

    def __len__(self) -> int:
        return len(self.voice)


def find_cells(near: Near, voice: Ints) -> Cells:
    """List the cells.

    Parameters
    ----------
    near : Near
    voice : int64 array, shape (n,)
        What was struck: hits with one number have one habit.
    """
    voices = int(voice.max(initial=0)) + 1
    keys, cell = numbered(near.place * voices + voice[:, None])
    kind = np.zeros(len(keys), np.int64)
    kind[cell] = near.kind
    both, pair = numbered(kind * voices + keys % voices)
    # Room around the bars, so that looking a few bars back never meets another cell.
    first = int(near.bar.min(initial=0)) - _REACH
    span = int(near.bar.max(initial=0)) - first + _REACH + 1
    slot = cell * span + near.bar - first
    slots, number = None, slot
    if len(keys) * span > _ROOM + _ROOM_EACH * slot.size:
        slots, number = numbered(slot)
    bar = near.bar[:, 1] - first
    kinds = numbered(near.kind[:, 1] * span + bar)[0] // span
    bars = np.bincount(kinds, minlength=int(kind.max(initial=0)) + 1)
    return Cells(
        cell=cell,
        voice=keys % voices,
        place=numbered(keys // voices)[1],
        kind=kind,
        pair=pair,
        pairs=len(both),
        slot=slot,
        span=span,
        id=number,
        ids=len(keys) * span if slots is None else len(slots),
        slots=slots,
        bars=bars[kind].astype(np.float64),
    )


@dataclass(frozen=True, eq=False)
class Struck:
    """How often cells are struck, given the line of each hit.

    Attributes
    ----------
    anyone : float64 array, shape (c,)
        In how many bars its place is struck by anyone.
    others : float64 array, shape (n, lines)
        For each hit and line: in how many bars but its own its voice strikes there.
    nearby : float64 array, shape (n, lines)
        The share of the bars nearby, its own left out, in which its voice strikes there.
    told : float64 array, shape (n, lines)
        How many bars nearby that rests on.
    """

    anyone: Floats
    others: Floats
    nearby: Floats
    told: Floats


def count_struck(cells: Cells, near: Near, pick: Ints) -> Struck:
    """Count how often each cell is struck, and how often in the bars around each hit.

    Parameters
    ----------
    cells : Cells
    near : Near
    pick : int64 array, shape (n,)
        Which of its lines each hit is taken to belong to.
    """
    there = np.zeros(cells.ids, np.bool_)
    there[picked(cells.id, pick)] = True
    slots = indices(there) if cells.slots is None else cells.slots[there]
    cell, bar = slots // cells.span, slots % cells.span
    count = np.bincount(cell, minlength=len(cells)).astype(np.float64)
    played = numbered(cells.place[cell] * cells.span + bar)[0] // cells.span
    anyone = np.bincount(played, minlength=int(cells.place.max(initial=-1)) + 1)
    nearby, told = _nearby(cells, near.bar, slots, picked(near.bar, pick))
    return Struck(
        anyone=anyone[cells.place].astype(np.float64),
        others=count[cells.cell] - there[cells.id],
        nearby=nearby,
        told=told,
    )


def _nearby(cells: Cells, bar: Ints, struck: Ints, playing: Ints) -> tuple[Floats, Floats]:
    """Share of the bars around each line in which its voice strikes there; how many bars tell."""
    if len(cells) * cells.span > _MOST:
        return np.zeros(bar.shape), np.zeros(bar.shape)
    first = int(bar.min(initial=0)) - _REACH
    told = _summed(cells.span, playing - first)[bar - first].astype(np.float64)
    return _summed(len(cells) * cells.span, struck)[cells.slot] / np.maximum(told, 1.0), told


def _summed(room: int, struck: Ints) -> npt.NDArray[np.int8]:
    """What the bars around each bar count, of those that are struck."""
    field = np.zeros(room + 2 * _REACH, np.int8)
    field[struck + _REACH] = 1
    total = np.zeros(room, np.int8)
    # Of whole rows, a byte each: that is far less than to look up the bars of each hit.
    for step in _TWICE:
        total += field[_REACH + step : _REACH + step + room]
    total += total
    for step in _ONCE:
        total += field[_REACH + step : _REACH + step + room]
    return total
