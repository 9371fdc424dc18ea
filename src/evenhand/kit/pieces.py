"""The closed list of pieces, and the role that each plays unless it is an anchor or a ghost."""

from evenhand.errors import SettingError

TIMEKEEPER, ACCENT, FILL, OTHER = "timekeeper", "accent", "fill", "other"
ANCHOR, GHOST = "anchor", "ghost"
GRACE, ROLL = "grace", "roll"

#: Every piece there is, with the role of its hits.
ROLE_OF_PIECE: dict[str, str] = {
    "kick": OTHER,
    "snare": OTHER,
    "side stick": OTHER,
    "hat": TIMEKEEPER,
    "ride": TIMEKEEPER,
    "cowbell": TIMEKEEPER,
    "crash": ACCENT,
    "splash": ACCENT,
    "china": ACCENT,
    **{f"tom {number}": FILL for number in range(1, 7)},
    **dict.fromkeys(
        [
            "clap",
            "tambourine",
            "vibraslap",
            "bongo",
            "conga",
            "timbale",
            "agogo",
            "cabasa",
            "maracas",
            "whistle",
            "guiro",
            "claves",
            "cuica",
            "triangle",
        ],
        OTHER,
    ),
    "wood block": OTHER,
    OTHER: OTHER,
}


#: All the toms.
TOMS = tuple(piece for piece, role in ROLE_OF_PIECE.items() if role == FILL)


def parse_piece(text: str) -> str:
    """Find a piece by its name; case, hyphens and underscores don't matter.

    Parameters
    ----------
    text : str
        Such as `side stick` or `tom 1`.

    Raises
    ------
    SettingError
        If there is no such piece.
    """
    name = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
    if name not in ROLE_OF_PIECE:
        raise SettingError(
            f"{text!r} is not a piece; the pieces are {', '.join(sorted(ROLE_OF_PIECE))}"
        )
    return name


def parse_pieces(text: str) -> tuple[str, ...]:
    """Find a piece by its name, or all toms by `toms`.

    Parameters
    ----------
    text : str
        Such as `side stick`, `tom 1` or `toms`.

    Raises
    ------
    SettingError
        If there is no such piece.
    """
    return TOMS if text.strip().lower() == "toms" else (parse_piece(text),)
