"""Count-ins: a few even hits on one piece before everything else begins."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats
from evenhand.pulse.recurrence import Onsets

# A count has two to eight hits, each this near to a beat (share of the beat).
_FEWEST, _MOST = 2, 8
_NEAR = 0.15


@dataclass(frozen=True)
class CountIn:
    """A count before the music.

    Attributes
    ----------
    hits : int
    piece : str
    next_beat : int
        The beat behind it, which begins a bar.
    """

    hits: int
    piece: str
    next_beat: int


def find_count_in(onsets: Onsets, place: Floats, beats: int) -> CountIn | None:
    """Find a count-in.

    Parameters
    ----------
    onsets : Onsets
    place : float64 array, shape (n,)
        Each hit in beats, in time order.
    beats : int
        Beats in a bar: a count fills whole bars, or half of one of four.

    Returns
    -------
    CountIn or None
        None where the take does not begin with one.
    """
    piece = onsets.piece
    if len(piece) < _FEWEST + 4 or piece[0] in ("kick", "crash", "snare"):
        return None
    others = np.flatnonzero(piece != piece[0])
    count = int(others[0]) if len(others) else len(piece)
    beat = np.rint(place[: count + 1])
    # The hat that opens the music together with the kick belongs to the music.
    entry = beat[-1] if count < len(piece) else np.inf
    count = int((beat[:count] < entry).sum())
    if not _FEWEST <= count <= _MOST:
        return None
    steps = np.diff(beat[:count])
    even = np.abs(place[:count] - beat[:count]).max() < _NEAR
    ends = entry - beat[count - 1]
    counted = (steps > 0).all() and (steps <= 2).all() and ends == steps[-1]
    # "One, two, one two three four" ends in steps of one beat.
    if not even or not counted or steps[-1] != 1:
        return None
    length = int(entry - beat[0])
    if length % beats and (length, beats) != (2, 4):
        return None
    return CountIn(count, str(piece[0]), int(entry))
