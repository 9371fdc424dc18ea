"""Voices: which hits have a habit in common."""

import numpy as np

from evenhand.columns import Ints, Words
from evenhand.kit import GHOST


def find_voices(piece: Words, role: Words) -> Ints:
    """Number the voices: each piece is one, and ghosts are another than the snare's accents.

    Parameters
    ----------
    piece, role : str arrays, shape (n,)

    Returns
    -------
    int64 array, shape (n,)
        From 0.
    """
    names, of_piece = np.unique(piece, return_inverse=True)
    return np.asarray(np.where(role == GHOST, len(names), of_piece), np.int64)
