"""Sections that a recipe names or draws, laid over those of the take."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from evenhand.columns import Ints
from evenhand.errors import SettingError
from evenhand.sections.sections import Sections
from evenhand.take import MeterMap, Position


@dataclass(frozen=True)
class Wanted:
    """A section that a recipe speaks of.

    Attributes
    ----------
    name : str
        Empty if it is given by bars alone.
    bars : (int, int), optional
        First and last bar; None to find it by its name.
    label : str
        What to call it.
    """

    name: str
    bars: tuple[int, int] | None
    label: str


def overlay(
    found: Sections, wanted: Sequence[Wanted], meter: MeterMap, end: int
) -> tuple[Sections, Ints]:
    """Lay wanted sections over those of a take.

    A name stands for every section that is called so; a name with a count, such as `A 2`, for
    that one.

    Parameters
    ----------
    found : Sections
    wanted : sequence of Wanted
    meter : MeterMap
    end : int
        Last tick of the take.

    Returns
    -------
    sections : Sections
        Those of the take, cut where a wanted one begins or ends.
    owner : int64 array
        For each of them the index of the wanted one that it is; -1 for none.

    Raises
    ------
    SettingError
        If a wanted section does not exist, lies outside the take or overlaps another.
    """
    pieces = sorted(
        (*stretch, index)
        for index, one in enumerate(wanted)
        for stretch in _stretches(one, found, meter)
    )
    for (_, one_end, one), (other_begin, _, other) in pairwise(pieces):
        if other_begin < one_end:
            labels = sorted((wanted[one].label, wanted[other].label))
            raise SettingError(f"section: {labels[0]!r} and {labels[1]!r} overlap")
    borders = {*found.tick.tolist()}
    for begin, stop, _ in pieces:
        borders |= {begin, stop}
    ticks = np.array(sorted(border for border in borders if border < max(end, 1)), np.float64)
    owner = np.full(len(ticks), -1, np.int64)
    for begin, stop, index in pieces:
        owner[(ticks >= begin) & (ticks < stop)] = index
    before = found.of(ticks)
    starts = np.append(True, (owner[1:] < 0) | (owner[1:] != owner[:-1]))
    # A section of the take that has been cut in two goes on by its name.
    ticks, owner, before = ticks[starts], owner[starts], before[starts]
    names = tuple(
        wanted[index].label if index >= 0 else found.name[old]
        for index, old in zip(owner.tolist(), before.tolist(), strict=True)
    )
    begin = ticks + found.early
    return Sections(
        begin=begin,
        bar=meter.bars_at(begin).number,
        last=found.last,
        early=found.early,
        name=names,
        source=f"{found.source}; from the recipe" if len(wanted) else found.source,
    ), owner


def _stretches(one: Wanted, found: Sections, meter: MeterMap) -> list[tuple[float, float]]:
    """From where to where it goes, in ticks."""
    if one.bars:
        return [_stretch_of(one, one.bars, found, meter)]
    chosen = [
        (begin, stop)
        for begin, stop, name, label in zip(
            found.tick.tolist(), found.stop.tolist(), found.name, found.labels, strict=True
        )
        if one.name in (name, label)
    ]
    if not chosen:
        known = ", ".join(dict.fromkeys(found.labels))
        raise SettingError(f"section {one.name!r}: the take has no such section; it has {known}")
    return chosen


def _stretch_of(
    one: Wanted, bars: tuple[int, int], found: Sections, meter: MeterMap
) -> tuple[float, float]:
    """The ticks of some bars; the first and the last of the take go on beyond its ends."""
    first, last = bars
    # What the take itself calls a section, such as one that a marker opens at its end, is there.
    last_bar = found.bars[-1][1]
    if last > last_bar:
        raise SettingError(
            f"section {one.label!r}: bar {last} lies behind the end of the take (bar {last_bar})"
        )
    begin, stop = (meter.to_tick(Position(bar, 1.0)) - found.early for bar in (first, last + 1))
    return (
        min(begin, float(found.tick[0])) if first == 1 else begin,
        np.inf if last == last_bar else stop,
    )
