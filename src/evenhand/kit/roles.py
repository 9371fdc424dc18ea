"""Roles: what each hit does, and where ghosts end on the snare."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Ints, indices, percentile
from evenhand.kit.maps import NOTES, KitMap
from evenhand.kit.pieces import ANCHOR, GHOST, ROLE_OF_PIECE
from evenhand.take import Hits

#: Ghost limit where the take does not show one. Common practice, no source: ghosts sit in the
#: lowest third of the velocity range.
FALLBACK_LIMIT = 40

# When snare velocities count as two groups. Otsu's separability (between-group over total
# variance; Otsu 1979, IEEE Trans. SMC 9(1), 62-66) is 3/4 for the best cut of an even spread and
# 2/π for a bell, so it must lie clearly above both. The other bounds are common practice.
_SEPARABILITY = 0.8
_FEWEST_HITS = 20
_SMALLEST_SHARE = 0.1
_SOFT = 64
_RATIO = 1.5


@dataclass(frozen=True)
class GhostLimit:
    """Below which velocity a snare hit is a ghost.

    Attributes
    ----------
    velocity : int
        A snare hit below it is a ghost.
    why : str
        How it was found, in words.
    """

    velocity: int
    why: str


def find_ghost_limit(velocity: Ints) -> GhostLimit:
    """Find the limit from a take's snare velocities.

    Where they fall into two groups (Otsu's cut, see the bounds in this module), the limit lies
    between the groups; otherwise it is `FALLBACK_LIMIT`, or half of the loudest tenth's lower end
    if that is less, for pads that send little.

    Parameters
    ----------
    velocity : int64 array
        Velocities of all snare hits, 1 to 127.
    """
    if len(velocity) < _FEWEST_HITS:
        return GhostLimit(_fallback(velocity), f"fewer than {_FEWEST_HITS} snare hits")
    if (velocity == velocity[0]).all():
        return GhostLimit(_fallback(velocity), "all snare hits are equally loud")
    cut = _two_groups(velocity)
    if (
        cut.separability < _SEPARABILITY
        or not _SMALLEST_SHARE <= cut.share <= 1 - _SMALLEST_SHARE
        or cut.soft > _SOFT
        or cut.loud < _RATIO * cut.soft
    ):
        return GhostLimit(_fallback(velocity), "snare velocities don't fall into two groups")
    return GhostLimit(
        cut.loud_from,
        f"snare velocities fall into two groups, around {cut.soft:.0f} and {cut.loud:.0f}",
    )


def loud_from(velocity: Ints) -> int:
    """From which velocity on hits of a voice that keeps time are accents; 128 if none are.

    Otsu's cut; its groups must be as far apart as ghosts and accents are, however often each
    comes.

    Parameters
    ----------
    velocity : int64 array
        Velocities of its hits, 1 to 127.
    """
    if not len(velocity) or (velocity == velocity[0]).all():
        return 128
    cut = _two_groups(velocity)
    return cut.loud_from if cut.loud >= _RATIO * cut.soft else 128


@dataclass(frozen=True)
class _Cut:
    """Otsu's cut: the first velocity above it, its separability, the share of soft hits, means."""

    loud_from: int
    separability: float
    share: float
    soft: float
    loud: float


def _two_groups(velocity: Ints) -> _Cut:
    """Otsu's cut of velocities that are not all the same."""
    count = np.bincount(velocity, minlength=128).astype(np.float64)
    value = np.arange(128.0)
    below, total = np.cumsum(count), count.sum()
    sum_below, mean = np.cumsum(count * value), (count * value).sum() / total
    cut = indices((below > 0) & (below < total))
    spread = (count * (value - mean) ** 2).sum() / total
    share = below[cut] / total
    soft = sum_below[cut] / below[cut]
    loud = (mean - share * soft) / (1 - share)
    between = share * (1 - share) * (loud - soft) ** 2 / spread
    # In an empty stretch between the groups every cut is equally good: take its middle.
    best = indices(between >= between.max() - 1e-12)
    one = best[len(best) // 2]
    return _Cut(int(cut[one]) + 1, *(float(each[one]) for each in (between, share, soft, loud)))


def _fallback(velocity: Ints) -> int:
    if not len(velocity):
        return FALLBACK_LIMIT
    return min(FALLBACK_LIMIT, int(percentile(velocity, 90.0)) // 2)


def label(
    hits: Hits, kit: KitMap, anchors: Iterable[str], ghost_below: int | None = None
) -> tuple[Hits, GhostLimit]:
    """Name the piece and the role of each hit.

    Parameters
    ----------
    hits : Hits
    kit : KitMap
    anchors : iterable of str
        The pieces whose hits are anchors.
    ghost_below : int, optional
        The ghost limit; found from the take if not given.

    Returns
    -------
    hits : Hits
        The same hits with `piece` and `role` filled.
    limit : GhostLimit
        The limit that was used, and why.
    """
    piece = kit.pieces(hits.note)
    snare = piece == "snare"
    if ghost_below is None:
        limit = find_ghost_limit(hits.velocity[snare])
    else:
        limit = GhostLimit(ghost_below, "as set")
    anchors = set(anchors)
    of_note = [
        ANCHOR if name in anchors else ROLE_OF_PIECE[name]
        for name in kit.pieces(np.arange(NOTES)).tolist()
    ]
    role = np.array(of_note, "<U10")[hits.note]
    role[snare & (hits.velocity < limit.velocity)] = GHOST
    return replace(hits, piece=piece, role=role), limit
