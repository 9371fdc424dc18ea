"""The colours of the pages, for what is drawn elsewhere (a test holds the two together)."""

#: Families of pieces: name, colour, mark, and the pieces that begin so.
FAMILIES = (
    ("kick", "#0072b2", "s", ("kick",)),
    ("snare", "#d55e00", "o", ("snare",)),
    ("side stick", "#cc79a7", "D", ("side stick",)),
    ("hat", "#009e73", "x", ("hat",)),
    ("cymbals", "#e69f00", "^", ("ride", "crash", "splash", "china")),
    ("toms", "#56b4e9", "v", ("tom",)),
    ("other pieces", "#000000", "+", ("",)),
)

INK, QUIET, GRID, BEFORE, AFTER = "#1b1b1b", "#55534e", "#e6e4de", "#8a877f", "#0072b2"


def family_of(piece: str) -> int:
    """The index of the family of a piece."""
    return next(
        index
        for index, (*_, begins) in enumerate(FAMILIES)
        if any(piece.startswith(name) for name in begins)
    )
