"""Dials: a number for all pieces, and others for single ones, as in `30` and `snare=24`."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from evenhand.columns import Floats, Words
from evenhand.errors import SettingError
from evenhand.kit import parse_piece


@dataclass(frozen=True)
class Dials:
    """A number per piece.

    Attributes
    ----------
    rest : float
        For the pieces that have none of their own.
    of : dict of str to float
        By piece.
    """

    rest: float
    of: dict[str, float] = field(default_factory=dict)

    def __getitem__(self, piece: str) -> float:
        return self.of.get(piece, self.rest)

    def each(self, piece: Words) -> Floats:
        """The number for each of several hits, by its piece."""
        names, index = np.unique(piece, return_inverse=True)
        return np.array([self[name] for name in names.tolist()], np.float64)[index]

    @property
    def words(self) -> str:
        """`36`, or `36, snare 30`."""
        own = [f"{piece} {number:g}" for piece, number in self.of.items()]
        return ", ".join([f"{self.rest:g}", *own])


def parse_dials(
    name: str, texts: Iterable[str], rest: float, low: float, high: float, whole: bool = False
) -> Dials:
    """Read dials.

    Parameters
    ----------
    name : str
        What the dial is called, for messages.
    texts : iterable of str
        Each `NUMBER` for all pieces or `PIECE=NUMBER`.
    rest : float
        What holds where nothing is said.
    low, high : float
        Limits, both included.
    whole : bool
        Whether only whole numbers make sense.

    Raises
    ------
    SettingError
        If a text is no such thing, or a piece has two numbers.
    """
    of: dict[str, float] = {}
    said = False
    for text in texts:
        piece, equals, number = text.rpartition("=")
        value = _number(name, number, low, high, whole)
        if not equals:
            if said:
                raise SettingError(f"{name}: two numbers for all pieces")
            rest, said = value, True
            continue
        try:
            key = parse_piece(piece)
        except SettingError as error:
            raise SettingError(f"{name}: {error}") from None
        if key in of:
            raise SettingError(f"{name}: two numbers for {key}")
        of[key] = value
    return Dials(rest, of)


def _number(name: str, text: str, low: float, high: float, whole: bool) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not low <= value <= high or (whole and value != int(value)):
        kind = "a whole number" if whole else "a number"
        limits = f"from {low:g} to {high:g}" if high < math.inf else f"of {low:g} or more"
        raise SettingError(f"{name}: {text!r} is not {kind} {limits}; write 30 or snare=24")
    return value
