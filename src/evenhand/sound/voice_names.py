"""Voices: the name of the sound that stands for each note, one per piece and zone."""

from evenhand.columns import Ints
from evenhand.kit import HAND_PERCUSSION, KitMap, Sound

#: Every voice with the General MIDI note (channel 10, Level 1 percussion map) that sounds like it.
#: What a kit lacks in the map is put on the nearest relative: a rim on its drum's other snare, the
#: edge of a cymbal on the second cymbal of its kind.
VOICES: dict[str, int] = {
    "kick": 36,
    "snare": 38,
    "snare rim": 40,
    "side stick": 37,
    "clap": 39,
    "hat": 42,
    "hat pedal": 44,
    "hat open": 46,
    "tom 1": 50,
    "tom 2": 48,
    "tom 3": 47,
    "tom 4": 45,
    "tom 5": 43,
    "tom 6": 41,
    "crash": 49,
    "crash edge": 57,
    "splash": 55,
    "china": 52,
    "ride": 51,
    "ride edge": 59,
    "ride bell": 53,
    "tambourine": 54,
    "cowbell": 56,
    **HAND_PERCUSSION,
    "other": 75,
}

#: Voices of which the next hit ends the one before: the two halves of a hat meet.
CHOKED = frozenset({"hat", "hat pedal", "hat open"})


def voice_of(sound: Sound | None) -> str:
    """The voice of a sound; of one that the kit map lacks, `other`."""
    if sound is None:
        return "other"
    is_open = "open" in f"{sound.zone} {sound.name}".lower().split()
    names = [f"{sound.piece} open"] if is_open else []
    names += [f"{sound.piece} {sound.zone}", sound.piece]
    return next((name for name in names if name in VOICES), "other")


def voices_of(note: Ints, kit: KitMap) -> tuple[list[str], list[int]]:
    """The voices that some notes need.

    Parameters
    ----------
    note : int64 array, shape (n,)
        Note numbers.
    kit : KitMap

    Returns
    -------
    names : list of str
        Each voice once, in alphabetical order.
    index : list of int, shape (n,)
        The voice of each note, as an index into `names`.
    """
    of_note = {number: voice_of(kit.sounds.get(number)) for number in set(note.tolist())}
    names = sorted(set(of_note.values()))
    place = {number: names.index(voice) for number, voice in of_note.items()}
    return names, [place[number] for number in note.tolist()]
