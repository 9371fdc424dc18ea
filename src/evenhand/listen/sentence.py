"""What was done, in one sentence: what the page says first."""

import math

import numpy as np

from evenhand.kit import TIMEKEEPER
from evenhand.listen.pair import BeforeAfter
from evenhand.paper import many
from evenhand.plan import MOVED

#: Less than this nobody hears, ms. Common practice.
_SAME_MS = 0.5

#: Smaller shifts are rounding, ms.
_STILL_MS = 0.0005


def in_one_sentence(comparison: BeforeAfter) -> str:
    """Say how much was moved, how far, and whether the timekeeper is as even as before."""
    changes = comparison.changes
    size = np.abs(changes.shift_ms)
    moved = int((size >= _STILL_MS).sum())
    hits = many(len(size), "hit")
    if not moved:
        return f"None of {hits} moved."
    decided = int(((changes.action == MOVED) & (size >= _STILL_MS)).sum())
    carried = f", {moved - decided} carried along" if moved > decided else ""
    furthest = int(np.argmax(size))
    place = comparison.places[furthest]
    told = (
        f"{moved} of {hits} moved: {decided} decided{carried}; "
        f"the largest {size[furthest]:.0f} ms at {place}"
    )
    even = "" if comparison.note else _evenness(comparison)
    return f"{told}; {even}." if even else f"{told}."


def _evenness(comparison: BeforeAfter) -> str:
    pairs = [one.evenness for one in comparison.result.kept]
    changes = [one.change for one in pairs if not math.isnan(one.before)]
    hits = comparison.changes.hits
    keepers = hits.piece[hits.role == TIMEKEEPER]
    if not changes or not len(keepers):
        return ""
    pieces, count = np.unique(keepers, return_counts=True)
    name = f"{pieces[np.argmax(count)]}s"
    middle = float(np.median(changes))
    if abs(middle) < _SAME_MS:
        return f"{name} as even as before"
    return f"{name} {abs(middle):.1f} ms {'less' if middle > 0 else 'more'} even"
