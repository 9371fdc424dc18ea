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
from evenhand.kit.uses import COMMENT, FEATHERED, PATTERN, TICKING, StruckAt, Use, find_uses

__all__ = [
    "ACCENT",
    "ANCHOR",
    "COMMENT",
    "FEATHERED",
    "FILL",
    "GHOST",
    "GRACE",
    "HAND_PERCUSSION",
    "KIT_MAPS",
    "OTHER",
    "PATTERN",
    "ROLE_OF_PIECE",
    "ROLL",
    "TICKING",
    "TIMEKEEPER",
    "TOMS",
    "GhostLimit",
    "KitMap",
    "Sound",
    "StruckAt",
    "Use",
    "find_uses",
    "label",
    "load_kit",
    "parse_piece",
    "parse_pieces",
]
