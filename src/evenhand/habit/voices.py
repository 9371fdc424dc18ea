"""Voices: which hits have a habit in common."""

import numpy as np

from evenhand.columns import Ints, Words
from evenhand.kit import GHOST


def find_voices(piece: Words, role: Words) -> Ints:
    """Number the voices: each piece is one, and ghosts are another than the snare's accents.

    Feathered kicks are of the voice of the kick: the foot lies as it lies, soft or loud.

    Parameters
    ----------
    piece, role : str arrays, shape (n,)

    Returns
    -------
    int64 array, shape (n,)
        From 0.
    """
    names, of_piece = np.unique(piece, return_inverse=True)
    return np.asarray(np.where((role == GHOST) & (piece != "kick"), len(names), of_piece), np.int64)
