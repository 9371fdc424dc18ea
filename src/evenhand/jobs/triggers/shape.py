"""Velocities: floor, ceiling, a curve, or the distribution of another take; louder stays louder."""

from dataclasses import dataclass, field

import numpy as np

from evenhand.columns import Floats, Ints, Words
from evenhand.errors import SettingError
from evenhand.jobs.triggers.per_piece import Dials

_SOFTEST, _LOUDEST = 1, 127


@dataclass(frozen=True)
class Shape:
    """How velocities are shaped, by piece; the defaults change nothing.

    Attributes
    ----------
    floor, ceiling : Dials
        What velocities 1 and 127 become.
    curve : Dials
        Exponent of what lies between: below 1 lifts the soft hits, above 1 lowers them.

    Raises
    ------
    SettingError
        If a piece's curve would not rise.
    """

    floor: Dials = field(default_factory=lambda: Dials(_SOFTEST))
    ceiling: Dials = field(default_factory=lambda: Dials(_LOUDEST))
    curve: Dials = field(default_factory=lambda: Dials(1.0))

    def __post_init__(self) -> None:
        for piece in ("", *self.floor.of, *self.ceiling.of, *self.curve.of):
            low, high, curve = self.floor[piece], self.ceiling[piece], self.curve[piece]
            whose = f"{piece}: " if piece else ""
            if low >= high:
                raise SettingError(
                    f"floor: {whose}the velocity curve from {low:g} to {high:g} is not rising"
                )
            if not 0 < curve < np.inf:
                raise SettingError(
                    f"curve: {whose}the velocity curve with exponent {curve:g} is not rising"
                )

    @property
    def changes(self) -> bool:
        """Whether it changes anything."""
        return self != Shape()


def shape_velocities(velocity: Ints, piece: Words, shape: Shape) -> Ints:
    """Lay a curve over velocities: low + (high − low) × ((v − 1) / 126) ** curve.

    Parameters
    ----------
    velocity : int64 array, shape (n,)
        1 to 127.
    piece : str array, shape (n,)
    shape : Shape

    Returns
    -------
    int64 array
        1 to 127, rounded to nearest; of two hits on a piece the louder never becomes the softer.
    """
    low, high = shape.floor.each(piece), shape.ceiling.each(piece)
    part = (velocity - _SOFTEST) / (_LOUDEST - _SOFTEST)
    return _whole(low + (high - low) * part ** shape.curve.each(piece))


def match_velocities(velocity: Ints, piece: Words, target: dict[str, Ints]) -> Ints:
    """Give the velocities of each piece the distribution of others.

    A velocity becomes the one that stands at the same place of the target's order: the quantile at
    its middle rank (Hazen's rule, (rank − 1/2) / n; equal velocities share their middle one).

    Parameters
    ----------
    velocity : int64 array, shape (n,)
    piece : str array, shape (n,)
    target : dict of str to int64 array
        Velocities by piece; a piece that is missing stays as it is.
    """
    shaped = velocity.copy()
    for name in np.unique(piece).tolist():
        wanted = target.get(name)
        if wanted is None or not len(wanted):
            continue
        mine = piece == name
        values, index, count = np.unique(velocity[mine], return_inverse=True, return_counts=True)
        middle = (np.cumsum(count) - count / 2) / mine.sum()
        new = np.quantile(wanted, middle, method="hazen")
        shaped[mine] = _whole(new)[index]
        del values
    return shaped


def _whole(velocity: Floats) -> Ints:
    return np.clip(np.rint(velocity), _SOFTEST, _LOUDEST).astype(np.int64)
