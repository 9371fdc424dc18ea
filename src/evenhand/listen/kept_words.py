"""What was kept of the drummer, in sentences."""

import numpy as np

from evenhand.columns import Floats
from evenhand.listen.pair import BeforeAfter
from evenhand.outcome import CARRIED
from evenhand.paper import many

#: Fewest hits whose relation is worth a sentence.
_FEWEST = 8


def what_was_kept(comparison: BeforeAfter) -> list[str]:
    """Say what the pass left of the feel: figures, no praise.

    Returns
    -------
    list of str
    """
    changes = comparison.changes
    size = np.abs(changes.shift_ms)
    still = int((size < 0.0005).sum())
    lines = [
        f"{still} of {many(len(size), 'hit')} ({100 * still / len(size):.0f} %) "
        "sound exactly when they were played.",
        f"Nine hits in ten moved by at most {np.percentile(size, 90):.1f} ms, "
        f"none by more than {size.max():.1f} ms.",
        "All velocities are as played; no hit was added or dropped.",
    ]
    for piece in np.unique(changes.hits.piece[~np.isnan(changes.line)]).tolist():
        mine = (changes.hits.piece == piece) & ~np.isnan(changes.line)
        if mine.sum() >= _FEWEST:
            lines.append(_lean(f"The {piece}", comparison, mine))
    lines += _between(comparison)
    return lines


def _lean(who: str, comparison: BeforeAfter, mine: np.ndarray) -> str:
    before, after = (
        float(np.median(deviation[mine]))
        for deviation in (comparison.deviation_before, comparison.deviation_after)
    )
    return f"{who} leaned {_leaning(before)} and now leans {_leaning(after)} (median)."


def _leaning(ms: float) -> str:
    if abs(ms) < 0.05:
        return "neither way"
    return f"{abs(ms):.1f} ms {'ahead' if ms < 0 else 'behind'}"


def _between(comparison: BeforeAfter) -> list[str]:
    """How well the hits between the anchors kept their distances from each other."""
    changes = comparison.changes
    carried = np.flatnonzero(changes.action == CARRIED)
    order = carried[np.argsort(changes.hits.ms[carried], kind="stable")]
    gap = np.diff(changes.hits.ms[order])
    change = np.abs(np.diff(changes.ms_after[order]) - gap)
    real: Floats = change[gap > 0]
    if len(real) < _FEWEST:
        return []
    return [
        "Between the anchors, the distance from one hit to the next changed by at most "
        f"{np.percentile(real, 90):.1f} ms nine times in ten, and never by more than "
        f"{real.max():.1f} ms."
    ]
