"""Voices: which hits have a habit in common."""

import numpy as np

from evenhand.columns import Ints
from evenhand.kit import GHOST
from evenhand.take import Hits


def find_voices(hits: Hits) -> Ints:
    """Number the voices: each piece is one, and ghosts are another than the snare's accents.

    Feathered kicks are of the voice of the kick: the foot lies as it lies, soft or loud.

    Parameters
    ----------
    hits : Hits
        With pieces and roles named.

    Returns
    -------
    int64 array, shape (n,)
        From 0.
    """
    names, of_piece = hits.by_piece
    ghost = (hits.role == GHOST) & (names != "kick")[of_piece]
    return np.asarray(np.where(ghost, len(names), of_piece), np.int64)
