"""Strokes: anchor hits struck together, which move as one, and what is bound to them."""

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from evenhand.columns import (
    SLACK_MS,
    Bools,
    Brief,
    Column,
    Floats,
    Ints,
    differences,
    indices,
    numbered,
    pick,
)
from evenhand.take import Hits

_Entry = TypeVar("_Entry", bound=np.generic)


@dataclass(frozen=True, eq=False)
class Strokes(Brief):
    """The strokes of a take in time order, s of them.

    Attributes
    ----------
    reference : int64 array, shape (s,)
        The hit that stands for the stroke: its loudest anchor hit, the earliest of equals.
    first, last : float64 arrays, shape (s,)
        Ticks of its first and last hit.
    of_hit : int64 array, shape (hits,)
        The stroke of each hit; -1 where it belongs to none.
    bond : int64 array, shape (hits,)
        Hits with the same number, from 0, keep their distances; -1 for hits that are free.
    lead : int64 array, shape (bonds,)
        The loudest hit of each bond: what the others lead to.
    anchor : bool array, shape (hits,)
        Which hits make the strokes; the others of a stroke are bound to them.
    """

    reference: Ints
    first: Floats
    last: Floats
    of_hit: Ints
    bond: Ints
    lead: Ints
    anchor: Bools

    def __len__(self) -> int:
        return len(self.reference)

    def to_dict(self) -> dict[str, Column]:
        """Give the strokes as columns by name.

        Returns
        -------
        dict of str to array
            `hit`: the number of the hit that stands for the stroke, from 1; `first_tick` and
            `last_tick`: of its first and last hit, the latency taken out; `hits`: how many anchor
            hits it has.

        Examples
        --------
        >>> strokes = tighten(read_take("kettle-weather.mid")).strokes
        >>> list(strokes.to_dict())
        ['hit', 'first_tick', 'last_tick', 'hits']
        """
        members = self.of_hit[self.anchor & (self.of_hit >= 0)]
        return {
            "hit": self.reference + 1,
            "first_tick": self.first,
            "last_tick": self.last,
            "hits": np.bincount(members, minlength=len(self)),
        }

    def spread(self, column: npt.NDArray[_Entry], missing: Any) -> npt.NDArray[_Entry]:
        """What holds for the stroke of each hit; `missing` for hits of none.

        Parameters
        ----------
        column : array, shape (strokes,)
        missing : scalar
        """
        return pick(column, self.of_hit, missing)

    def of_anchors(self, column: npt.NDArray[_Entry], missing: Any) -> npt.NDArray[_Entry]:
        """The same for the anchor hits of each stroke alone, without what is bound to them.

        Parameters
        ----------
        column : array, shape (strokes,)
        missing : scalar
            For all other hits.
        """
        return np.where(self.anchor, self.spread(column, missing), missing)

    def overlap(self, begin: float, end: float) -> Bools:
        """Which strokes lie at least in part between two ticks, both included.

        Parameters
        ----------
        begin, end : float
            Ticks.
        """
        return (self.first <= end) & (self.last >= begin)

    def within(self, tick: Floats, which: Bools) -> Bools:
        """Which places lie inside one of the chosen strokes.

        Parameters
        ----------
        tick : float64 array, shape (n,)
        which : bool array, shape (strokes,)
        """
        owner = np.searchsorted(self.last, tick, side="left")
        inside = np.append(self.first, np.inf)[owner] <= tick
        return np.asarray(inside & np.append(which, False)[owner])


def find_strokes(
    tick: Floats,
    ms: Floats,
    hits: Hits,
    anchor: Bools,
    together: float | Floats,
    bond: Ints | None = None,
) -> Strokes:
    """Chain anchor hits into strokes.

    Parameters
    ----------
    tick, ms : float64 arrays, shape (hits,)
        When each hit sounds.
    hits : Hits
    anchor : bool array, shape (hits,)
    together : float or float64 array, shape (hits,)
        Largest gap to the previous anchor hit of the same stroke, ms.
    bond : int64 array, shape (hits,), optional
        Hits with the same number keep their distances, such as a flam; -1 for none. What is
        struck inside such a group is bound to it as well.
    """
    bond = _meet(tick, np.full(len(tick), -1, np.int64) if bond is None else bond)
    hit = indices(anchor)
    # Hits at one tick are told apart by their note, so that the order of tracks does not matter.
    hit = hit[np.lexsort((hits.note[hit], tick[hit]))]
    widest = np.broadcast_to(together, len(tick))[hit]
    begins = differences(ms[hit], -np.inf) > widest + SLACK_MS
    begin, end = _extents(tick, bond)
    inside = [np.searchsorted(tick[hit], begin, "left"), np.searchsorted(tick[hit], end, "right")]
    for one, other in zip(*inside, strict=True):
        begins[one + 1 : other] = False
    stroke = np.cumsum(begins) - 1
    of_hit = np.full(len(tick), -1, np.int64)
    of_hit[hit] = stroke
    start = indices(begins)
    stop = np.append(start[1:], len(hit))[: len(start)]
    loudest_first = np.argsort(128 * stroke - hits.velocity[hit], kind="stable")
    first, last = tick[hit[start]], tick[hit[stop - 1]]
    if len(begin):
        # A bond belongs to the stroke that it overlaps: by now there is one at the most.
        owner = np.searchsorted(last, begin, "left")
        owned = np.append(first, np.inf)[owner] <= end
        of_hit[bond >= 0] = np.maximum(np.where(owned, owner, -1)[bond], of_hit)[bond >= 0]
        np.minimum.at(first, owner[owned], begin[owned])
        np.maximum.at(last, owner[owned], end[owned])
    return Strokes(
        reference=hit[loudest_first[start]],
        first=first,
        last=last,
        of_hit=of_hit,
        bond=bond,
        lead=_loudest(bond, hits.velocity),
        anchor=anchor,
    )


def _meet(tick: Floats, bond: Ints) -> Ints:
    """Number the bonds from 0 in time order, those that overlap as one."""
    bound = bond >= 0
    met = np.full(len(bond), -1, np.int64)
    if not bound.any():
        return met
    _, met[bound] = numbered(bond[bound])
    begin, end = _extents(tick, met)
    order = np.argsort(begin, kind="stable")
    reached = np.maximum.accumulate(end[order])
    number = np.zeros(len(order), np.int64)
    number[order] = np.cumsum(np.append(False, begin[order][1:] > reached[:-1]))
    met[bound] = number[met[bound]]
    return met


def _loudest(bond: Ints, velocity: Ints) -> Ints:
    """The loudest hit of each bond, the last of equals."""
    bound = indices(bond >= 0)
    order = bound[np.lexsort((velocity[bound], bond[bound]))]
    last = indices(np.diff(bond[order], append=-1))
    return np.asarray(order[last])


def _extents(tick: Floats, bond: Ints) -> tuple[Floats, Floats]:
    """First and last tick of each bond."""
    count = int(bond.max(initial=-1)) + 1
    begin, end = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(begin, bond[bond >= 0], tick[bond >= 0])
    np.maximum.at(end, bond[bond >= 0], tick[bond >= 0])
    return begin, end
