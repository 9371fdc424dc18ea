"""Onsets of an invented groove, for the tests of the pulse."""

import numpy as np

from evenhand.pulse.recurrence import Onsets

#: Quarters of a bar that each piece is struck on: kick, snare and hat in eighths.
GROOVE = {"kick": (0, 2, 2.5), "snare": (1, 3), "hat": tuple(np.arange(0, 4, 0.5))}


def groove(
    bars: int, bpm: float, *, late_ms: float = 0, spread_ms: float = 0, seed: int = 0
) -> Onsets:
    """A groove of some bars with a crash every fourth, struck late by so much."""
    random = np.random.default_rng(seed)
    rows = []
    for bar in range(bars):
        for piece, places in GROOVE.items():
            rows += [(4 * bar + place, piece, 0.9 if place % 1 == 0 else 0.6) for place in places]
        if bar % 4 == 0:
            rows.append((4 * bar, "crash", 0.9))
    beat = np.array([row[0] for row in rows], float)
    s = beat * 60 / bpm + (late_ms + random.normal(0, spread_ms or 1e-9, len(beat))) / 1000
    order = np.argsort(s, kind="stable")
    piece = np.array([row[1] for row in rows])[order]
    return Onsets(
        s=s[order],
        weight=np.array([row[2] for row in rows])[order],
        kick=piece == "kick",
        snare=piece == "snare",
        keeper=piece == "hat",
        crash=piece == "crash",
        piece=piece,
    )
