"""Bonds: hits that keep their distances, whatever moves: ornaments, and a fill's landing."""

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words, indices
from evenhand.ground.ornaments import Ornaments
from evenhand.kit import ACCENT, ANCHOR

# The landing stroke is the anchor hit nearest to its line and no further from it than this, ms; a
# crash within the second of it lands with it. Common practice: beyond that a flam is heard.
_LANDING_MS, _TOGETHER_MS = 60.0, 40.0


def find_bonds(
    ms: Floats, role: Words, ornaments: Ornaments, landings: Floats
) -> tuple[Ints, Bools]:
    """Bind graces to their main hits, and crashes to the kicks that fills land on.

    Parameters
    ----------
    ms : float64 array, shape (n,)
        When each hit sounds.
    role : str array, shape (n,)
    ornaments : Ornaments
    landings : float64 array
        The lines that fills land on, ms.

    Returns
    -------
    bond : int64 array, shape (n,)
        Hits with the same number keep their distances; -1 for none.
    anchor : bool array, shape (n,)
        Which hits make strokes: the anchors, and the crashes that fills land on.
    """
    grace = ornaments.grace
    bond = np.where(grace, ornaments.main, -1)
    bond[ornaments.main[grace]] = ornaments.main[grace]
    anchor = role == ANCHOR
    accents = indices(role == ACCENT)
    anchors = indices(anchor)
    for line in landings.tolist():
        landing = _nearest(ms, anchors, line, _LANDING_MS)
        if landing is None:
            landing = _nearest(ms, accents, line, _LANDING_MS)
        if landing is None:
            continue
        crashes = accents[np.abs(ms[accents] - ms[landing]) <= _TOGETHER_MS]
        if len(crashes):
            bond[landing] = bond[landing] if bond[landing] >= 0 else landing
            bond[crashes] = bond[landing]
            anchor[crashes] = True
    return bond, anchor


def _nearest(ms: Floats, hits: Ints, place: float, reach: float) -> int | None:
    """The hit nearest to a place; None if it is out of reach."""
    if not len(hits):
        return None
    away = np.abs(ms[hits] - place)
    return int(hits[np.argmin(away)]) if away.min() <= reach else None
