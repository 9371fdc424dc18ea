"""Whether hits can tell a tempo at all, and if not, why."""

import numpy as np

from evenhand.columns import Floats
from evenhand.pulse.recurrence import Onsets

#: Fewest strokes to find a tempo from.
FEWEST = 8

# How much playing can be followed, s, a longer silence counted as this much; and how many hits a
# second it takes. Common practice; both bound the work by the number of hits.
_LONGEST_S, _SILENCE_S, _SPARSEST = 2400.0, 30.0, 0.25

# Hits no further apart than this are one stroke, s.
_TOGETHER_S = 0.02
# A run: this much of it on one piece, this much of its intervals within this share of the middle
# one, which is shorter than this, s.
_ONE_PIECE, _MOST, _EVEN, _FAST_S = 0.9, 0.9, 0.25, 0.2
# Accents tell of beats if loudness repeats this well every two to eight strokes (correlation).
_ACCENTED = 0.3
# Coherence times the root of the number of strokes below which it is chance: the best of all tempi
# gives strewn hits 1.2 to 2.1. Followed, strewn hits and solos come to 0.1 to 0.3.
_CHANCE, _FOLLOWED_CHANCE = 2.3, 0.28


def stroke_places(onsets: Onsets) -> Floats:
    """Where strokes begin, s."""
    apart = np.diff(onsets.s, prepend=-np.inf) > _TOGETHER_S
    return np.asarray(onsets.s[apart])


def why_untold(onsets: Onsets, *, hinted: bool) -> str:
    """Say why hits can't tell a tempo before it is looked for; nothing if they may.

    Parameters
    ----------
    onsets : Onsets
    hinted : bool
        Whether it is known about how fast they are.
    """
    strokes = stroke_places(onsets)
    if len(strokes) < FEWEST:
        return f"there are only {len(strokes)} strokes (it takes {FEWEST})"
    if not hinted and is_run(onsets):
        return (
            "it is one even run on one drum, and nothing says which stroke is a beat; "
            "if you know about how fast it is, say so with --near"
        )
    return ""


def why_unfollowed(onsets: Onsets) -> str:
    """Say why a tempo that wanders can't be followed through hits; nothing if it may.

    Parameters
    ----------
    onsets : Onsets
    """
    played = float(np.minimum(np.diff(onsets.s), _SILENCE_S).sum())
    if len(onsets) < _SPARSEST * played:
        return "the hits are too far apart to be followed from one to the next"
    if played > _LONGEST_S:
        return (
            f"{played / 60:.0f} minutes are too long to be followed beat by beat "
            f"({_LONGEST_S / 60:.0f} at the most)"
        )
    return ""


def is_run(onsets: Onsets) -> bool:
    """Whether hits are one fast even run on one piece with no accents to go by."""
    gaps = np.diff(stroke_places(onsets))
    if len(gaps) < FEWEST:
        return False
    middle = float(np.median(gaps))
    even = float(np.mean(np.abs(gaps - middle) <= _EVEN * middle)) >= _MOST
    _, counts = np.unique(onsets.piece, return_counts=True)
    if middle >= _FAST_S or not even or counts.max() < _ONE_PIECE * len(onsets):
        return False
    loud = onsets.weight - onsets.weight.mean()
    power = float(loud @ loud)
    repeats = [float(loud[lag:] @ loud[:-lag]) for lag in range(2, min(9, len(loud)))]
    return bool(power < 1e-9 or max(repeats) < _ACCENTED * power)


def no_pulse(onsets: Onsets, coherence: float, steady: bool) -> bool:
    """Whether the hits keep to what was found no better than by chance.

    Parameters
    ----------
    onsets : Onsets
    coherence : float
        How much the hits agree on the beat, 0 to 1.
    steady : bool
        Whether the tempo that was found is one for all.
    """
    chance = _CHANCE / float(np.sqrt(len(stroke_places(onsets))))
    return coherence < (chance if steady else max(chance, _FOLLOWED_CHANCE))
