"""The files that a recipe names besides a kit, and what they are called where it is kept."""

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evenhand.recipe.settings import Recipe

#: Settings that name a file, with what it is called beside a recipe that is kept.
BESIDE = {"song": "song.mid", "against": "against.mid", "habit_from": "habit.toml"}

_MIDI = r".+\.(?:mid|midi|smf)"


def is_midi(name: str) -> bool:
    """Whether a name is that of a MIDI file."""
    return re.fullmatch(_MIDI, name, re.IGNORECASE | re.DOTALL) is not None


def split_part(text: str) -> tuple[str, str]:
    """A file and what is meant in it: `bass.mid:Bass` is `bass.mid` and `Bass`.

    What stands behind the last colon is meant only if the rest is the name of a MIDI file.

    Parameters
    ----------
    text : str
    """
    match = re.fullmatch(rf"({_MIDI}):(.*)", text, re.IGNORECASE | re.DOTALL)
    return (match[1], match[2]) if match else (text, "")


def named_files(recipe: "Recipe") -> dict[str, str]:
    """The files that a recipe names (see `BESIDE`), by setting.

    Parameters
    ----------
    recipe : Recipe
    """
    given = {name: getattr(recipe, name) for name in BESIDE}
    return {name: split_part(value)[0] for name, value in given.items() if value is not None}


def with_files(recipe: "Recipe", files: dict[str, str]) -> "Recipe":
    """The same recipe with its files elsewhere.

    Parameters
    ----------
    recipe : Recipe
    files : dict of str to str
        Where each is, by setting.
    """
    moved = {}
    for name, path in files.items():
        _, what = split_part(getattr(recipe, name))
        moved[name] = f"{path}:{what}" if what else path
    return recipe.with_settings(moved)


def seen_from(path: Path, recipe: "Recipe") -> "Recipe":
    """The same recipe with its kit and its files named as seen from where it is going to be.

    Parameters
    ----------
    path : Path
        The file that the recipe is written to.
    recipe : Recipe

    Returns
    -------
    Recipe
    """
    if recipe.kit.endswith(".toml"):
        recipe = recipe.replace(kit=_seen_from(path, recipe.kit))
    seen = {name: _seen_from(path, file) for name, file in named_files(recipe).items()}
    return with_files(recipe, seen)


def _seen_from(path: Path, file: str) -> str:
    try:
        return Path(os.path.relpath(file, path.parent)).as_posix()
    except ValueError:  # on another disk
        return str(Path(file).resolve())
