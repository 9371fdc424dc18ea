"""Roles by what hits do, found in the sections that want them so."""

import numpy as np

from evenhand.columns import Bools, Floats, Ints, indices, median
from evenhand.kit import ROLL, StruckAt, Use, find_uses
from evenhand.take import Hits, MeterMap, in_roles

#: Lines of a quarter note that places are counted on: sixteenths, triplets, and the same doubled.
_LINES = (4, 3, 6, 8)


def uses_in(
    hits: Hits, tick: Floats, section: Ints, wanted: Bools, meter: MeterMap
) -> tuple[Hits, tuple[Use, ...]]:
    """Name roles by what hits do.

    Parameters
    ----------
    hits : Hits
        With roles by piece, graces and rolls.
    tick : float64 array, shape (hits,)
        When each hit sounds, the lean of the whole take set aside.
    section : int64 array, shape (hits,)
    wanted : bool array, shape (sections,)
        In which sections roles are told by what hits do.
    meter : MeterMap

    Returns
    -------
    hits : Hits
    uses : tuple of Use
    """
    mine = indices(wanted[section] & (hits.role != ROLL))
    if not len(mine):
        return hits, ()
    struck = where_struck(tick[mine], section[mine], meter)
    names, piece = hits.by_piece
    told, uses = find_uses(struck, hits.velocity[mine], (names, piece[mine]), hits.role[mine])
    if not uses:
        return hits, uses
    role = hits.role.copy()
    role[mine] = told
    return in_roles(hits, role), uses


def where_struck(tick: Floats, section: Ints, meter: MeterMap) -> StruckAt:
    """Count places on the lines that lie nearest to the hits of each section, by their gaps."""
    gap = np.ones(len(tick))
    steps = [meter.division / lines for lines in _LINES]
    away = [np.abs(lines - np.rint(lines)) for lines in (tick / step for step in steps)]
    for one in indices(np.bincount(section)).tolist():
        here = section == one
        gap[here] = steps[int(np.argmin([median(each[here]) for each in away]))]
    line = np.rint(tick / gap) * gap
    # A line is surely inside its bar.
    bars = meter.bars_at(line + gap / 4)
    place = np.rint((line - bars.start) / gap).astype(np.int64)
    return StruckAt(section, bars.number, place, np.rint((bars.stop - bars.start) / gap))
