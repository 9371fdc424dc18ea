"""Target maps: what note a sampler wants for each sound, and what to take where it has none.

A sound is looked for under its names, the closest first: its note (`note 26`), what the kit map
calls it (`open hat edge`), pad and zone (`crash 2 edge`), the pad alone, the piece. Where the
target has none of them, the map's own `[instead]` decides, and last a short list of stand-ins.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from evenhand.errors import SettingError
from evenhand.jobs.triggers.pads import CLOSED, HALF, HAT, OPEN, PEDAL, opening_of, pad_of
from evenhand.kit import HAND_PERCUSSION, KIT_MAPS, OTHER, ROLE_OF_PIECE, KitMap, Sound
from evenhand.take import read_toml

#: Stand-ins for a piece that a target lacks, the nearest first (common practice). Toms stand in
#: for each other, the nearest in number first, then the lower.
STAND_INS = {
    "side stick": ("snare rim", "snare"),
    "splash": ("crash", "china"),
    "china": ("crash", "splash"),
    "crash": ("china", "splash", "ride"),
    "ride": ("crash",),
    "cowbell": ("ride bell", "wood block"),
    "clap": ("snare",),
    "tambourine": ("hat closed",),
    "cabasa": ("maracas",),
    "maracas": ("cabasa",),
    "bongo": ("conga",),
    "conga": ("bongo",),
    "timbale": ("tom 1", "tom 2"),
    "claves": ("wood block", "side stick"),
    "wood block": ("claves", "side stick"),
}

_FORM = 'write "snare rim" = 40 under [notes], or "splash" = "crash" under [instead]'


@dataclass(frozen=True)
class Target:
    """A target map.

    Attributes
    ----------
    name : str
    notes : dict of str to int
        Note numbers by the names of sounds.
    instead : dict of str to str
        Which sound to take where one is missing.
    """

    name: str
    notes: dict[str, int]
    instead: dict[str, str] = field(default_factory=dict)

    def find(self, note: int, sound: Sound | None, opening: str = "") -> tuple[int, str] | None:
        """The target's note for a sound, and the name that it was found under.

        Parameters
        ----------
        note : int
            The note number that the take has for it.
        sound : Sound, optional
            What the take's kit map says it is; None where it says nothing.
        opening : str
            `closed`, `half` or `open` for the hat.
        """
        wanted = list(_names(note, sound, opening))
        for name in wanted:
            if name in self.notes:
                return self.notes[name], name
        standing_in = [self.instead[name] for name in wanted if name in self.instead]
        if not standing_in and sound:
            standing_in = list(_stand_ins(sound.piece))
        for other in standing_in:
            for name in _shorter(other):
                if name in self.notes:
                    return self.notes[name], name
        return None


def _names(note: int, sound: Sound | None, opening: str) -> Iterator[str]:
    """Names of a sound, the closest first."""
    named = not sound or opening_of(sound) == opening
    if named:
        yield f"note {note}"
    if not sound:
        return
    if named:
        yield sound.name
    pad, zone, piece = pad_of(sound), sound.zone, sound.piece
    if pad == PEDAL:
        yield from (PEDAL, f"{HAT} {CLOSED}", HAT)
    elif piece == HAT:
        for state in (opening, OPEN) if opening == HALF else (opening,):
            yield from (f"{HAT} {zone} {state}", f"{HAT} {state}")
        yield from (f"{HAT} {zone}", HAT)
    else:
        for surface in (pad, piece, f"{piece} 1"):
            yield from (f"{surface} {zone}", surface, f"{surface} head", f"{surface} bow")


def _stand_ins(piece: str) -> Iterable[str]:
    if not piece.startswith("tom "):
        return STAND_INS.get(piece, ())
    number = int(piece[4:])
    others = sorted(range(1, 7), key=lambda one: (abs(one - number), -one))
    return [f"tom {one}" for one in others]


def _shorter(name: str) -> Iterator[str]:
    """A name, then without its last words; cymbals also as the first of their kind."""
    words = name.split()
    for count in range(len(words), 0, -1):
        short = " ".join(words[:count])
        yield from (short, f"{short} 1", f"{short} head", f"{short} bow", f"{short} {CLOSED}")


#: General MIDI Level 1 has six toms, high to low; kits with fewer use these (common practice:
#: e-kits send 48, 45, 43 and 41 for four).
_GM_TOMS = {
    1: (48,),
    2: (48, 43),
    3: (48, 45, 43),
    4: (48, 45, 43, 41),
    5: (50, 48, 45, 43, 41),
    6: (50, 48, 47, 45, 43, 41),
}

#: The rest of the percussion map of General MIDI Level 1, one note for each sound.
_GM_NOTES = {
    "kick": 36,
    "side stick": 37,
    "snare": 38,
    "clap": 39,
    "hat closed": 42,
    "hat pedal": 44,
    "hat open": 46,
    "crash 1": 49,
    "ride": 51,
    "china": 52,
    "ride bell": 53,
    "tambourine": 54,
    "splash": 55,
    "cowbell": 56,
    "crash 2": 57,
    "ride 2": 59,
    **HAND_PERCUSSION,
}


def general_midi(kit: KitMap) -> Target:
    """General MIDI for the sounds of a kit.

    A note that means in the kit what it means in General MIDI stays as it is; toms are spread
    over those of General MIDI by how many the kit has.
    """
    gm = KIT_MAPS["gm"].sounds
    notes = {f"note {note}": note for note, sound in kit.sounds.items() if gm.get(note) == sound}
    toms = sorted({one.piece for one in kit.sounds.values() if one.piece.startswith("tom ")})
    spread = _GM_TOMS[len(toms)] if toms else ()
    return Target("gm", {**notes, **_GM_NOTES, **dict(zip(toms, spread, strict=True))})


def load_target(name: str, kit: KitMap, merge: bool = False) -> Target:
    """Get `gm`, or read a target map from a TOML file.

    Such a file looks like this:

        [notes]
        kick = 36
        "snare rim" = 40
        "hat half" = 24
        "note 31" = 39
        [instead]
        "side stick" = "snare rim"

    Parameters
    ----------
    name : str
        `gm` or the path of a file.
    kit : KitMap
        The kit map of the take.
    merge : bool
        Whether two pieces may share a note.

    Raises
    ------
    DiskError
        If the file can't be read.
    SettingError
        If it isn't such a file, or sends two pieces to one note.
    """
    if name == "gm":
        return general_midi(kit)
    if not name.endswith(".toml"):
        raise SettingError(f"to: {name!r} is neither gm nor a .toml file")
    table = read_toml(Path(name))
    try:
        target = _read_table(Path(name).name, table)
        if not merge:
            _refuse_shared(target)
    except SettingError as error:
        raise SettingError(f"{name}: {error}") from None
    return target


def _read_table(name: str, table: dict[str, Any]) -> Target:
    for key in table:
        if key not in ("notes", "instead"):
            raise SettingError(f"unknown key {key!r}; the keys are notes and instead")
    notes, instead = table.get("notes", {}), table.get("instead", {})
    if not isinstance(notes, dict) or not isinstance(instead, dict) or not notes:
        raise SettingError(_FORM)
    for key, value in notes.items():
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 127:
            raise SettingError(f"notes: {key}: {value!r} is not a note number from 0 to 127")
    named = {_tidy(key): value for key, value in notes.items()}
    stand_ins = {}
    for key, value in instead.items():
        if not isinstance(value, str):
            raise SettingError(f"instead: {key}: {_FORM}")
        stand_ins[_tidy(key)] = other = _tidy(value)
        if not any(short in named for short in _shorter(other)):
            raise SettingError(f"instead: {key}: {other!r} has no note under [notes] either")
    return Target(name, named, stand_ins)


def _tidy(key: str) -> str:
    name = " ".join(key.lower().replace("-", " ").replace("_", " ").split())
    if not piece_of_name(name):
        raise SettingError(
            f"{key!r} is no sound; it begins with a piece ({', '.join(sorted(ROLE_OF_PIECE))}), "
            'or is a note such as "note 31"'
        )
    return name


def piece_of_name(name: str) -> str:
    """The piece of a sound's name; `other` for a note, empty where it is no sound."""
    if re.fullmatch(r"note (\d|\d\d|1[01]\d|12[0-7])", name):
        return OTHER
    for kit in KIT_MAPS.values():
        for sound in kit.sounds.values():
            if sound.name == name:
                return sound.piece
    fitting = [piece for piece in ROLE_OF_PIECE if f"{name} ".startswith(f"{piece} ")]
    return max(fitting, key=len, default="")


def _refuse_shared(target: Target) -> None:
    first: dict[int, tuple[str, str]] = {}
    for name, note in target.notes.items():
        piece = piece_of_name(name)
        if piece == OTHER:
            continue
        other, its_name = first.setdefault(note, (piece, name))
        if other != piece:
            raise SettingError(shared(note, its_name, name))


def shared(note: int, one: str, other: str) -> str:
    """The message for two pieces on one note."""
    return f"note {note} would stand for both {one} and {other}; give --merge to allow that"
