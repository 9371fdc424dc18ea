"""The squeeze guard: gaps between neighbouring strokes stay between half and twice their size."""

import numpy as np

from evenhand.columns import Bools, Floats, differences, indices

_SMALLEST, _LARGEST = 0.5, 2.0

#: Ticks that a gap may miss its limits by: noise of floating point.
_SLACK = 1e-9


def guard(first: Floats, last: Floats, shift: Floats) -> tuple[Floats, Bools]:
    """Reduce shifts until no gap between neighbours shrinks below half or grows beyond twice.

    Of a pair that breaks the rule the larger shift is reduced just enough; where that would make
    it the smaller one, both are reduced alike. Shifts are never increased and never turned
    around, so two sweeps, forwards and backwards, settle every pair: the forward sweep leaves
    only pairs whose earlier shift has become too large, and mending those backwards breaks no
    later pair.

    Parameters
    ----------
    first, last : float64 arrays, shape (s,)
        Where each stroke begins and ends, in ticks, in time order and not overlapping.
    shift : float64 array, shape (s,)
        Wanted shifts in ticks.

    Returns
    -------
    shift : float64 array, shape (s,)
    reduced : bool array, shape (s,)
        Which shifts had to be reduced.
    """
    return settle(first[1:] - last[:-1], shift)


def settle(gap: Floats, shift: Floats) -> tuple[Floats, Bools]:
    """The same, given the gaps between neighbours; those of an infinite gap are none.

    Parameters
    ----------
    gap : float64 array, shape (s - 1,)
        In ticks.
    shift : float64 array, shape (s,)
    """
    broken = _broken(shift, gap)
    if not len(broken):
        return shift, np.zeros(len(shift), np.bool_)
    # A pair that is settled breaks no other but the next one in the direction of the sweep, so
    # both sweeps look at broken pairs only, and at what follows from them.
    settled = shift.copy()
    _sweep(settled, gap, broken, 1)
    _sweep(settled, gap, list(reversed(_broken(settled, gap))), -1)
    return settled, np.abs(settled - shift) > _SLACK


def _broken(shift: Floats, gap: Floats) -> list[int]:
    """The pairs that break the rule, in time order."""
    change = differences(shift)
    room = np.where(change < 0, gap * (1 - _SMALLEST), gap * (_LARGEST - 1))
    found: list[int] = indices(np.abs(change) > room + _SLACK).tolist()
    return found


def _sweep(shifts: Floats, gaps: Floats, broken: list[int], step: int) -> None:
    """Settle broken pairs, and each that another has broken, in one direction."""
    done = -1 if step > 0 else len(gaps)
    for pair in broken:
        at = pair
        while (at - done) * step > 0 and 0 <= at < len(gaps):
            before = shifts.item(at), shifts.item(at + 1)
            after = _settle(*before, gaps.item(at))
            shifts[at], shifts[at + 1] = after
            done = at
            outer = 1 if step > 0 else 0
            if after[outer] == before[outer]:
                break
            at += step


def _settle(one: float, other: float, gap: float) -> tuple[float, float]:
    """Reduce the shifts of two neighbours just enough for the gap between them."""
    change = other - one
    room = gap * (1 - _SMALLEST) if change < 0 else gap * (_LARGEST - 1)
    if abs(change) <= room + _SLACK:
        return one, other
    small = min(abs(one), abs(other))
    if one * other < 0:
        # They move against each other: down to the smaller one, then both alike.
        large, small = (room - small, small) if room >= 2 * small else (room / 2, room / 2)
    else:
        large = small + room
    sizes = (large, small) if abs(one) > abs(other) else (small, large)
    return float(np.copysign(sizes[0], one)), float(np.copysign(sizes[1], other))
