"""What was struck and what it does: kit maps and roles."""

from evenhand.kit.maps import HAND_PERCUSSION, KIT_MAPS, KitMap, Sound, load_kit
from evenhand.kit.pieces import (
    ACCENT,
    ANCHOR,
    FILL,
    GHOST,
    GRACE,
    OTHER,
    ROLE_OF_PIECE,
    ROLL,
    TIMEKEEPER,
    TOMS,
    parse_piece,
    parse_pieces,
)
from evenhand.kit.roles import GhostLimit, label

__all__ = [
    "ACCENT",
    "ANCHOR",
    "FILL",
    "GHOST",
    "GRACE",
    "HAND_PERCUSSION",
    "KIT_MAPS",
    "OTHER",
    "ROLE_OF_PIECE",
    "ROLL",
    "TIMEKEEPER",
    "TOMS",
    "GhostLimit",
    "KitMap",
    "Sound",
    "label",
    "load_kit",
    "parse_piece",
    "parse_pieces",
]
