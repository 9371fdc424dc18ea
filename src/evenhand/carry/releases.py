"""Releases: a hit that lasted keeps lasting, if only for one tick."""

import numpy as np

from evenhand.columns import Bools, Ints, indices, numbered


def keep_lasting(
    kind: Ints, note: Ints, before: Ints, after: Ints, limb: Ints | None = None
) -> Ints:
    """Move releases that would fall onto their own hit one tick further, where there is room.

    Where the map of time shortens, a note of one tick can round to none, and many programs drop
    a note that ends when it begins (pretty_midi does). Nothing is overtaken for it: a release
    with another event of the track at its heels stays where it is.

    Parameters
    ----------
    kind : int64 array, shape (n,)
        Of the drum events of one track in file order: 1 for a hit, 0 for a release, -1 for others.
    note : int64 array, shape (n,)
        Their note numbers.
    before, after : int64 arrays, shape (n,)
        Their ticks.
    limb : int64 array, shape (n,), optional
        The limb of each, the same for all events of a note: those of another are no neighbours.

    Returns
    -------
    int64 array, shape (n,)
        The new ticks.
    """
    lost = _lost(kind, note, before, after)
    if not lost.any():
        return after
    if limb is None:
        limb = np.zeros(len(after), np.int64)
    kept = after.copy()
    for one in numbered(limb[lost])[0].tolist():
        mine = indices(limb == one)
        own = after[mine]
        # Backwards, so that several releases at one tick go together.
        for index in indices(lost[mine])[::-1]:
            if index + 1 == len(own) or own[index + 1] > own[index]:
                own[index] += 1
        kept[mine] = own
    return kept


def _lost(kind: Ints, note: Ints, before: Ints, after: Ints) -> Bools:
    """Which releases come at the tick of the latest hit on their note now, and did not before."""
    notes = indices(kind >= 0)
    # Numbers of one byte are sorted by counting.
    order = notes[np.argsort(note[notes].astype(np.uint8), kind="stable")]
    place = np.arange(len(order))
    latest = np.maximum.accumulate(np.where(kind[order] == 1, place, 0))
    hit = order[latest]
    lost = np.zeros(len(kind), np.bool_)
    lost[order] = (
        (kind[order] == 0)
        & (note[hit] == note[order])
        & (before[hit] < before[order])
        & (after[hit] == after[order])
    )
    return lost
