"""Cells: a piece at a place in the bar; and how often each is struck."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.habit.near import Near

#: Bars on each side that tell what is played nearby.
_NEARBY = 4


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
        Cell and bar in one number: the key of one line for one voice.
    span : int
        What a slot counts for each cell.
    """

    cell: Ints
    voice: Ints
    place: Ints
    kind: Ints
    pair: Ints
    pairs: int
    slot: Ints
    span: int

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
    keys, cell = np.unique(near.place * voices + voice[:, None], return_inverse=True)
    cell = cell.reshape(near.place.shape)
    kind = np.zeros(len(keys), np.int64)
    kind[cell] = near.kind
    both, pair = np.unique(kind * voices + keys % voices, return_inverse=True)
    # Room around the bars, so that looking a few bars back never meets another cell.
    first = int(near.bar.min(initial=0)) - 2 * _NEARBY
    span = int(near.bar.max(initial=0)) - first + 2 * _NEARBY + 2
    return Cells(
        cell=cell,
        voice=keys % voices,
        place=np.unique(keys // voices, return_inverse=True)[1],
        kind=kind,
        pair=pair,
        pairs=len(both),
        slot=cell * span + near.bar - first,
        span=span,
    )


@dataclass(frozen=True, eq=False)
class Struck:
    """How often cells are struck, given the line of each hit.

    Attributes
    ----------
    count : float64 array, shape (c,)
        In how many bars each cell is struck.
    bars : float64 array, shape (c,)
        How many bars of its kind there are.
    anyone : float64 array, shape (c,)
        In how many bars its place is struck by anyone.
    nearby : float64 array, shape (n, lines)
        For each hit and line: the share of the bars nearby, its own left out, in which its voice
        strikes there. Every second bar counts twice, so that patterns of two bars are seen.
    others : float64 array, shape (n, lines)
        In how many bars but its own its voice strikes there.
    """

    count: Floats
    bars: Floats
    anyone: Floats
    nearby: Floats
    others: Floats


def count_struck(cells: Cells, near: Near, pick: Ints) -> Struck:
    """Count how often each cell is struck, and how often in the bars around each hit.

    Parameters
    ----------
    cells : Cells
    near : Near
    pick : int64 array, shape (n,)
        Which of its lines each hit is taken to belong to.
    """
    hit = np.arange(len(pick))
    bar = near.bar[hit, pick]
    struck = np.unique(cells.slot[hit, pick])
    count = np.bincount(struck // cells.span, minlength=len(cells)).astype(np.float64)
    own_bar = _among(struck, cells.slot, 0)
    return Struck(
        count=count,
        bars=_many(near.kind[hit, pick], bar, cells.kind)[cells.kind],
        anyone=_many(cells.place[cells.cell[hit, pick]], bar, cells.place)[cells.place],
        nearby=_nearby(cells, near.bar, struck, bar),
        others=count[cells.cell] - own_bar,
    )


def _many(what: Ints, bar: Ints, all_there_are: Ints) -> Floats:
    """In how many bars each number comes."""
    span = int(bar.max(initial=0)) - int(bar.min(initial=0)) + 1
    both = np.unique(what * span + bar - bar.min(initial=0))
    count = int(all_there_are.max(initial=-1)) + 1
    return np.bincount(both // span, minlength=count).astype(np.float64)


def _among(struck: Ints, key: Ints, reach: int) -> Ints:
    """How many of some sorted numbers lie within so much of each key."""
    low = np.searchsorted(struck, key - reach, "left")
    return np.searchsorted(struck, key + reach, "right") - low


def _nearby(cells: Cells, bar: Ints, struck: Ints, playing: Ints) -> Floats:
    playing = np.unique(playing)
    told = _share(struck, cells.slot), _share(playing, bar)
    return np.asarray(told[0] / np.maximum(told[1], 1))


def _share(struck: Ints, key: Ints) -> Floats:
    """Bars nearby, each second one twice, the own one left out."""
    total = _among(struck, key, _NEARBY) - _among(struck, key, 0)
    for step in (-4, -2, 2, 4):
        total = total + _among(struck, key + step, 0)
    return np.asarray(total, np.float64)
