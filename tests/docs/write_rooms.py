"""Draw the map of the rooms: each in its place, from the ground up, with what it imports.

python -m tests.docs.write_rooms
"""

from pathlib import Path

from tests.test_house import ROOMS, SOURCE, _imports

PICTURE = Path(__file__).parents[2] / "docs" / "pictures" / "rooms.svg"

_ROW, _LEFT, _WIDTH, _REST = 26, 12, 118, 780
_HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {0} {1}" width="{0}" height="{1}" '
    'font-family="sans-serif" font-size="13">\n<title>The rooms of evenhand and what each imports'
    '</title>\n<rect width="{0}" height="{1}" fill="#ffffff"/>\n'
)


def imported() -> dict[str, list[str]]:
    """The rooms that each room imports, the highest first."""
    found: dict[str, set[str]] = {room: set() for room in ROOMS}
    for path in SOURCE.rglob("*.py"):
        room = path.relative_to(SOURCE).parts[0].removesuffix(".py")
        if room in found:
            found[room] |= {other[0] for other in _imports(path)} - {room}
    return {room: sorted(some, key=ROOMS.index, reverse=True) for room, some in found.items()}


def picture() -> str:
    """The map as SVG: a row for each room, the roof first."""
    rows = list(reversed(imported().items()))
    parts = [_HEAD.format(_LEFT + _WIDTH + _REST, _ROW * len(rows) + 8)]
    for row, (room, below) in enumerate(rows):
        top = 4 + _ROW * row
        parts.append(
            f'<rect x="{_LEFT}" y="{top}" width="{_WIDTH}" height="{_ROW - 4}" rx="4" '
            'fill="#e8eef4" stroke="#5b7083"/>\n'
            f'<text x="{_LEFT + 8}" y="{top + 16}" fill="#1c2730">{room}</text>\n'
            f'<text x="{_LEFT + _WIDTH + 10}" y="{top + 16}" font-size="11" fill="#44525e">'
            f"{' · '.join(below)}</text>\n"
        )
    return "".join([*parts, "</svg>\n"])


if __name__ == "__main__":
    PICTURE.write_text(picture(), "utf-8")
