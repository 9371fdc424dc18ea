"""The table of settings, third part: the song that a take belongs to, and its other players."""

from dataclasses import dataclass
from typing import Any

from evenhand.errors import SettingError
from evenhand.recipe.checks import Check, number
from evenhand.recipe.file_names import is_midi, split_part
from evenhand.recipe.setting import MOVES, PULSE, setting
from evenhand.recipe.table_judgement import Judgement


def _midi_file(name: str, value: Any) -> str | None:
    if value is None or (isinstance(value, str) and is_midi(split_part(value)[0])):
        return value
    raise SettingError(f"{name}: {value!r} is no MIDI file (.mid, .midi or .smf)")


def _habit_file(name: str, value: Any) -> str | None:
    if value is None or (isinstance(value, str) and value.lower().endswith(".toml")):
        return value
    raise SettingError(f"{name}: {value!r} is no habit file (.toml); `evenhand habit` writes one")


#: No song is longer, seconds: what lies beyond is no place, nor is what is no number.
_FURTHEST = 1e6


def _place(name: str, value: Any) -> str | None:
    """A place in a song; the song itself says whether it has it."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _FURTHEST:
        return f"{value:g}"
    raise SettingError(f"{name}: {value!r} is neither bar:beat nor seconds")


@dataclass(frozen=True)
class InSong(Judgement):
    """Settings of the song around the take."""

    song: str | None = setting(
        None,
        Check(_midi_file, shown="str, optional"),
        PULSE,
        "The song that the take belongs to (MIDI): its tempo, meter and markers are laid under "
        "the take.",
        more="No hit moves for it: every event keeps its time to half a tick.",
        metavar="SONG",
        unset="none",
        looks=True,
    )
    song_at: str | None = setting(
        None,
        Check(_place, shown="str, optional"),
        PULSE,
        "Where in the song the take begins: `bar:beat`, or seconds from its start.",
        metavar="WHERE",
        unset="start on start",
        looks=True,
        needs="song",
    )
    against: str | None = setting(
        None,
        Check(_midi_file, shown="str, optional"),
        MOVES,
        "Another player or a programmed part (MIDI): where it has an onset on a line, that is the "
        "line's place.",
        more="Behind the file's name may stand what is meant in it: a channel (`bass.mid:2`), a "
        "track (`song.mid:Bass`, `song.mid:track 3`), or a piece of a kit (`other.mid:snare`). "
        "The part's own scatter is smoothed.",
        metavar="PART",
        unset="none",
        looks=True,
    )
    share: float = setting(
        100.0,
        number(0, 100),
        MOVES,
        "Between the part and the grid: `100` goes all the way to the part.",
        unit="percent",
        needs="against",
    )
    habit_from: str | None = setting(
        None,
        Check(_habit_file, shown="str, optional"),
        MOVES,
        "The habit of a drummer (`evenhand habit`): all strokes, hats and ghosts move by what it "
        "has otherwise than the take at their places.",
        more="`habit` says how far: `100` goes to that habit, `0` to the lines. What single "
        "strokes do stays; what stands out is told by the take's own habit, and strength is for "
        "that alone. The take's own sections and drift stay by `lean`.",
        metavar="HABIT",
        unset="the take's own",
    )
