"""Sound files to start from."""

import os
from functools import cache
from pathlib import Path

from tests.build import drum_bytes
from tests.raw import END, KICK, SNARE, chunk, header, track

_EXAMPLE = Path(__file__).parents[2] / "examples" / "kettle-weather.mid"


def made() -> list[bytes]:
    """A few small files with everything in them that a reader must know."""
    notes = [(line * 120 + line % 7 * 5, 42 if line % 4 else 36) for line in range(64)]
    metas = f"00 FF 51 03 07 A1 20 87 40 FF 58 04 07 03 18 08 87 40 FF 51 03 06 1A 80 {END}"
    return [
        drum_bytes(notes),
        drum_bytes([*notes, (3, 38, 20), (1922, 38, 90)], bpm=93, meter=(7, 8), division=96),
        header(tracks=2) + track(metas) + chunk(b"XTRA", b"??") + track(KICK + SNARE * 30 + END),
        header(kind=0) + track(f"00 F0 03 41 10 F7 05 90 3C 40 {KICK} 20 90 3C 00 {SNARE} {END}"),
    ]


@cache
def all_bases() -> tuple[bytes, ...]:
    """The made ones, the example, and of real takes the shorter ones, where there are some."""
    folder = os.environ.get("EVENHAND_TAKES", "")
    real = (
        sorted(Path(folder).glob("*.mid"), key=lambda path: path.stat().st_size) if folder else []
    )
    return (*made(), _EXAMPLE.read_bytes(), *(path.read_bytes() for path in real[:40]))
