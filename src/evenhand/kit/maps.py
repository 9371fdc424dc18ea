"""Kit maps: which note number is which piece, struck on which zone.

Sources: the percussion map of General MIDI Level 1 for `gm`; for `ekit` besides, the mapping table
published with the Groove MIDI Dataset (Gillick et al., ICML 2019; from memory, and every note in
it occurs in that dataset).
"""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from evenhand.columns import Brief, Ints, Words
from evenhand.errors import SettingError
from evenhand.kit.pieces import OTHER, parse_piece
from evenhand.take import read_toml

#: Note numbers go from 0 to this, less one.
NOTES = 128


class Sound(NamedTuple):
    """What a note number stands for."""

    piece: str
    zone: str
    name: str


@dataclass(frozen=True)
class KitMap(Brief):
    """Note number → piece and zone.

    Attributes
    ----------
    name : str
    sounds : dict of int to Sound
        By note number, 0 to 127.
    """

    name: str
    sounds: dict[int, Sound]

    @cached_property
    def _pieces(self) -> Words:
        pieces = [
            self.sounds[note].piece if note in self.sounds else OTHER for note in range(NOTES)
        ]
        return np.array(pieces)

    def pieces(self, note: Ints) -> Words:
        """The piece of each note number, `other` where the map has none.

        Parameters
        ----------
        note : int64 array, shape (n,)
            0 to 127.
        """
        return self._pieces[note]

    def unknown(self, note: Ints) -> list[int]:
        """The note numbers among `note` that the map lacks, each once, in order.

        Parameters
        ----------
        note : int64 array, shape (n,)
            0 to 127.
        """
        return [one for one in np.unique(note).tolist() if one not in self.sounds]


def _sound(piece: str, zone: str = "", name: str = "") -> Sound:
    return Sound(piece, zone, name or f"{piece} {zone}".strip())


#: The General MIDI note that stands for each piece of hand percussion, whatever its kind or size.
HAND_PERCUSSION: dict[str, int] = {
    "vibraslap": 58,
    "bongo": 60,
    "conga": 63,
    "timbale": 65,
    "agogo": 67,
    "cabasa": 69,
    "maracas": 70,
    "whistle": 71,
    "guiro": 73,
    "claves": 75,
    "wood block": 76,
    "cuica": 79,
    "triangle": 81,
}

# Toms are numbered from the highest; a zone is given where the standard tells one.
_GM: dict[int, Sound] = {
    35: _sound("kick", name="acoustic bass drum"),
    36: _sound("kick", name="bass drum 1"),
    37: _sound("side stick"),
    38: _sound("snare", "head", "acoustic snare"),
    39: _sound("clap", name="hand clap"),
    40: _sound("snare", "head", "electric snare"),
    41: _sound("tom 6", "head", "low floor tom"),
    42: _sound("hat", "bow", "closed hat"),
    43: _sound("tom 5", "head", "high floor tom"),
    44: _sound("hat", "pedal", "pedal hat"),
    45: _sound("tom 4", "head", "low tom"),
    46: _sound("hat", "bow", "open hat"),
    47: _sound("tom 3", "head", "low-mid tom"),
    48: _sound("tom 2", "head", "hi-mid tom"),
    49: _sound("crash", "bow", "crash cymbal 1"),
    50: _sound("tom 1", "head", "high tom"),
    51: _sound("ride", "bow", "ride cymbal 1"),
    52: _sound("china", "bow", "china cymbal"),
    53: _sound("ride", "bell", "ride bell"),
    54: _sound("tambourine"),
    55: _sound("splash", "bow", "splash cymbal"),
    56: _sound("cowbell"),
    57: _sound("crash", "bow", "crash cymbal 2"),
    58: _sound("vibraslap"),
    59: _sound("ride", "bow", "ride cymbal 2"),
    60: _sound("bongo", name="high bongo"),
    61: _sound("bongo", name="low bongo"),
    62: _sound("conga", name="mute high conga"),
    63: _sound("conga", name="open high conga"),
    64: _sound("conga", name="low conga"),
    65: _sound("timbale", name="high timbale"),
    66: _sound("timbale", name="low timbale"),
    67: _sound("agogo", name="high agogo"),
    68: _sound("agogo", name="low agogo"),
    69: _sound("cabasa"),
    70: _sound("maracas"),
    71: _sound("whistle", name="short whistle"),
    72: _sound("whistle", name="long whistle"),
    73: _sound("guiro", name="short guiro"),
    74: _sound("guiro", name="long guiro"),
    75: _sound("claves"),
    76: _sound("wood block", name="high wood block"),
    77: _sound("wood block", name="low wood block"),
    78: _sound("cuica", name="mute cuica"),
    79: _sound("cuica", name="open cuica"),
    80: _sound("triangle", name="mute triangle"),
    81: _sound("triangle", name="open triangle"),
}

_EKIT: dict[int, Sound] = {
    **_GM,
    22: _sound("hat", "edge", "closed hat edge"),
    26: _sound("hat", "edge", "open hat edge"),
    40: _sound("snare", "rim"),
    48: _sound("tom 1", "head"),
    50: _sound("tom 1", "rim"),
    45: _sound("tom 2", "head"),
    47: _sound("tom 2", "rim"),
    43: _sound("tom 3", "head"),
    58: _sound("tom 3", "rim"),
    41: _sound("tom 4", "head"),
    49: _sound("crash", "bow", "crash 1 bow"),
    55: _sound("crash", "edge", "crash 1 edge"),
    57: _sound("crash", "bow", "crash 2 bow"),
    52: _sound("crash", "edge", "crash 2 edge"),
    51: _sound("ride", "bow"),
    59: _sound("ride", "edge"),
    53: _sound("ride", "bell"),
}

#: The maps that come with evenhand; `ekit` has every note of `gm`.
KIT_MAPS = {"gm": KitMap("gm", _GM), "ekit": KitMap("ekit", _EKIT)}

_FORM = 'write 38 = "snare" or 38 = { piece = "snare", zone = "head" } under [notes]'


def load_kit(name: str) -> KitMap:
    """Get a kit map by name, or read one from a TOML file.

    Parameters
    ----------
    name : str
        `gm`, `ekit`, or the path of a file such as

            base = "ekit"            # what the file builds on; "none" starts empty
            [notes]
            36 = "kick"
            31 = { piece = "snare", zone = "rim" }

    Raises
    ------
    DiskError
        If the file can't be read.
    SettingError
        If it isn't such a file.
    """
    if name in KIT_MAPS:
        return KIT_MAPS[name]
    table = read_toml(Path(name))
    try:
        return KitMap(Path(name).name, _read_table(table))
    except SettingError as error:
        raise SettingError(f"{name}: {error}") from None


def _read_table(table: dict[str, Any]) -> dict[int, Sound]:
    for key in table:
        if key not in ("base", "notes"):
            raise SettingError(f"unknown key {key!r}; the keys are base and notes")
    base, notes = table.get("base", "ekit"), table.get("notes", {})
    if not isinstance(base, str) or base not in (*KIT_MAPS, "none"):
        raise SettingError(f"base: {base!r} is none of ekit, gm, none")
    if not isinstance(notes, dict):
        raise SettingError(f"notes: {_FORM}")
    sounds = dict(KIT_MAPS[base].sounds) if base != "none" else {}
    for key, value in notes.items():
        if not key.isascii() or not key.isdigit() or int(key) > 127:
            raise SettingError(f"notes: {key!r} is not a note number from 0 to 127")
        sounds[int(key)] = _read_sound(int(key), value)
    return sounds


def _read_sound(note: int, value: Any) -> Sound:
    fields = {"piece": value} if isinstance(value, str) else value
    if (
        not isinstance(fields, dict)
        or "piece" not in fields
        or not set(fields) <= {"piece", "zone"}
        or not all(isinstance(field, str) for field in fields.values())
    ):
        raise SettingError(f"note {note}: {_FORM}")
    try:
        return _sound(parse_piece(fields["piece"]), fields.get("zone", ""))
    except SettingError as error:
        raise SettingError(f"note {note}: {error}") from None
