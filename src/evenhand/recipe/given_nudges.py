"""Nudges in a recipe: what the hand puts elsewhere."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from evenhand.errors import SettingError
from evenhand.recipe.places import named, read_table

if TYPE_CHECKING:
    from evenhand.take import Position

#: How far a nudge may go, ms: beyond it it is no nudge.
_FURTHEST = 1000.0

_EXAMPLE = 'at = "33:1", piece = "kick" and ms = -6, or hit = 412 and ms = -6'
_KEYS = ("at", "piece", "hit", "ms", "together")


@dataclass(frozen=True)
class Nudge:
    """A hit that the hand puts elsewhere.

    Attributes
    ----------
    at : str
        `bar:beat`; empty where `hit` says which one is meant.
    piece : str
        The piece that is meant; empty for any anchor.
    ms : float
        How far from where the plan put it, -1000 to 1000; minus is earlier.
    hit : int
        The number of the hit as the change log counts, from 1; 0 where `at` says where it is.
    together : bool
        Whether all limbs go along; otherwise the hit's own limb goes alone.
    """

    at: str
    piece: str
    ms: float
    hit: int = 0
    together: bool = False

    @property
    def place(self) -> "Position":
        """The place, read."""
        from evenhand.take import parse_position

        return parse_position(self.at)

    @property
    def label(self) -> str:
        """What to call it."""
        return self.at or f"hit {self.hit}"

    def plain(self) -> dict[str, Any]:
        """The same as a table of a recipe."""
        which: dict[str, Any] = {"at": self.at, "piece": self.piece, "hit": self.hit}
        table = {key: value for key, value in which.items() if value}
        return {**table, "ms": self.ms, **({"together": True} if self.together else {})}


def read_nudge(name: str, value: Any) -> Nudge:
    """Check one nudge of a recipe.

    Raises
    ------
    SettingError
        If a key is missing or unknown or a value makes no sense; the message names it.
    """
    if isinstance(value, Nudge):
        value = value.plain()
    table = read_table(name, value, _EXAMPLE)
    unknown = sorted(set(table) - set(_KEYS))
    if unknown:
        raise SettingError(f"{name}: {unknown[0]!r} is none of {', '.join(_KEYS)}")
    at, hit = _which(name, table)
    label = f"{name} {at or f'hit {hit}'}"
    piece, ms, together = table.get("piece", ""), table.get("ms"), table.get("together", False)
    if not isinstance(piece, str):
        raise SettingError(f"{label}: piece: {piece!r} is not a word in quotes")
    if piece:
        from evenhand.kit import parse_piece

        piece = named(label, lambda: parse_piece(piece))
    if isinstance(ms, bool) or not isinstance(ms, int | float) or not abs(ms) <= _FURTHEST:
        raise SettingError(f"{label}: ms: {ms!r} is not {-_FURTHEST:g} to {_FURTHEST:g}")
    if not isinstance(together, bool):
        raise SettingError(f"{label}: together: {together!r} is neither true nor false")
    return Nudge(at, piece, float(ms), hit, together)


def _which(name: str, table: Mapping[str, Any]) -> tuple[str, int]:
    """Where the nudge is, or which hit it means: one of the two."""
    from evenhand.take import parse_position

    at, hit = table.get("at"), table.get("hit")
    if hit is not None:
        if isinstance(hit, bool) or not isinstance(hit, int) or hit < 1:
            raise SettingError(f"{name}: hit: {hit!r} is not the number of a hit, from 1")
        if at is not None or "piece" in table:
            raise SettingError(f"{name} hit {hit}: a hit by its number needs no at and no piece")
        return "", hit
    if not isinstance(at, str):
        raise SettingError(f'{name}: say where, such as at = "33:1", or which, such as hit = 412')
    named(name, lambda: parse_position(at))
    return at.strip(), 0
