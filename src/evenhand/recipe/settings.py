"""The settings of a pass, as one value."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenhand.errors import ArgumentError, SettingError
from evenhand.recipe.checks import TABLES
from evenhand.recipe.modes import ANCHORS, AUTO, HITS, REACH
from evenhand.recipe.places import Hold, read_hold
from evenhand.recipe.reference import attributes
from evenhand.recipe.table import SETTINGS, SettingTable

if TYPE_CHECKING:
    from evenhand.grid import Grid
    from evenhand.kit import KitMap
    from evenhand.pulse import Hints
    from evenhand.take import Song, Take


@dataclass(frozen=True)
class Recipe(SettingTable):
    """The settings of a pass. Every value is checked when the recipe is made.

    {attributes}

    Raises
    ------
    SettingError
        If a value makes no sense; the message names the setting.

    Examples
    --------
    >>> Recipe(strength=60, hold=("17:4-18:1",))
    Recipe(strength=60.0, hold=('17:4-18:1',))
    """

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            object.__setattr__(self, field.name, SETTINGS[field.name].check(field.name, value))

    def __repr__(self) -> str:
        plain, usual = self.settings(), {one.name: one.default for one in SETTINGS.values()}
        told = (f"{name}={value!r}" for name, value in plain.items() if value != usual[name])
        return f"Recipe({', '.join(told)})"

    def replace(self, **settings: Any) -> "Recipe":
        """Return the same recipe with some settings replaced, in the words of the constructor.

        Parameters
        ----------
        **settings
            Names of settings with their new values.

        Returns
        -------
        Recipe

        Raises
        ------
        SettingError
            If a setting does not exist or its value makes no sense.

        Examples
        --------
        >>> Recipe(strength=60, hold=("17-20",)).replace(strength=80)
        Recipe(strength=80.0, hold=('17-20',))
        """
        return self.with_settings(settings)

    def save(self, path: str | Path, overwrite: bool = False) -> None:
        """Write the recipe to a TOML file, which `read_recipe` reads.

        Parameters
        ----------
        path : str or Path
        overwrite : bool
            Whether a file that exists is replaced.

        Raises
        ------
        DiskError
            If the file exists (without `overwrite`) or can't be written.

        Examples
        --------
        >>> Recipe(strength=60).save("song.toml", overwrite=True)
        >>> read_recipe("song.toml")
        Recipe(strength=60.0)
        """
        from evenhand.recipe.file_names import seen_from
        from evenhand.recipe.toml import recipe_toml
        from evenhand.take import check_outputs, write_files

        path = Path(path)
        check_outputs([path], [], overwrite)
        write_files({path: recipe_toml(seen_from(path, self)).encode()}, overwrite)

    def with_settings(self, settings: Mapping[str, Any]) -> "Recipe":
        """Return the same recipe with some settings replaced.

        Parameters
        ----------
        settings : mapping of str to object
            New values by name.

        Returns
        -------
        Recipe

        Raises
        ------
        SettingError
            If a setting does not exist or its value makes no sense.

        Examples
        --------
        >>> Recipe().with_settings({"window": 8, "grid": "1/16"})
        Recipe(grid='1/16', window=8.0)
        """
        for name in settings:
            if name not in SETTINGS:
                raise SettingError(f"unknown setting {name!r}; there are {', '.join(SETTINGS)}")
        return replace(self, **settings)

    def settings(self) -> dict[str, Any]:
        """All settings by name, as plain values.

        Returns
        -------
        dict of str to object

        Examples
        --------
        >>> Recipe(strength=60).settings()["strength"]
        60.0
        """
        settings = {field.name: getattr(self, field.name) for field in fields(self)}
        for name, value in settings.items():
            if SETTINGS[name].check.kind == TABLES:
                settings[name] = tuple(one.plain() for one in value)
        return settings

    def for_section(self, index: int) -> "Recipe":
        """The settings in one of its sections.

        Parameters
        ----------
        index : int
            Of the section in `section`, from 0; -1 for none.

        Returns
        -------
        Recipe

        Examples
        --------
        >>> recipe = Recipe(strength=60, section=({"bars": "5-8", "strength": 90},))
        >>> recipe.for_section(0).strength, recipe.for_section(-1).strength
        (90.0, 60.0)
        """
        return self.with_settings(dict(self.section[index].settings)) if index >= 0 else self

    @property
    def lines(self) -> "Grid | None":
        """The grid with its swing; None to find it from the take."""
        from evenhand.grid import parse_grid

        return None if self.grid == AUTO else parse_grid(self.grid, self.swing)

    @property
    def latency_ms(self) -> float | None:
        """The latency in ms; None to find it from the take."""
        return None if isinstance(self.latency, str) else self.latency

    @property
    def window_ms(self) -> float | None:
        """The window in ms; None for the just-noticeable difference."""
        return None if isinstance(self.window, str) else self.window

    @property
    def reach_percent(self) -> float:
        """The reach in percent; where it is found, the one that hits are counted by."""
        return REACH if isinstance(self.reach, str) else self.reach

    @property
    def most_ms(self) -> float:
        """The largest move in ms; infinite without a limit."""
        return math.inf if isinstance(self.most, str) else self.most

    @property
    def by_habit(self) -> bool:
        """Whether what stands out for this drummer is moved, not what is outside a window."""
        return self.window == AUTO == self.reach and self.plan == HITS

    @property
    def roles_by_use(self) -> bool:
        """Whether roles are told by what hits do: where neither anchors nor dials are given."""
        return self.roles == AUTO and self.anchor == ANCHORS and self.by_habit

    @property
    def ghost_limit(self) -> int | None:
        """The ghost limit; None to find it from the take."""
        return None if isinstance(self.ghost_below, str) else self.ghost_below

    @property
    def holds(self) -> tuple[Hold, ...]:
        """The holds, read."""
        return tuple(read_hold(text) for text in self.hold)

    def stretches(self, name: str) -> tuple[Hold, ...]:
        """The stretches that are named as `fill` or as `groove`, read.

        Parameters
        ----------
        name : str
            `fill` or `groove`.

        Returns
        -------
        tuple of Hold

        Examples
        --------
        >>> [str(one.first) for one in Recipe(fill=("17:3-18:1",)).stretches("fill")]
        ['17:3']
        """
        return tuple(read_hold(text) for text in getattr(self, name))

    @property
    def hints(self) -> "Hints":
        """What is known beforehand of tempo and meter."""
        from evenhand.pulse import Hints

        beats, unit = map(int, self.meter.split("/")) if self.meter else (None, None)
        first = None if self.first_beat is None else self.first_beat / 1000
        return Hints(self.near, beats, unit, first)

    def load_kit(self) -> "KitMap":
        """The kit map; reads its file if it is one.

        Returns
        -------
        KitMap

        Raises
        ------
        DiskError
            If the file can't be read.
        SettingError
            If it isn't a kit map.

        Examples
        --------
        >>> Recipe(kit="gm").load_kit().sounds[36].piece
        'kick'
        """
        from evenhand.kit import load_kit

        return load_kit(self.kit)

    def load_song(self) -> "Song | None":
        """The song, and where in it the take begins; reads its file.

        Returns
        -------
        Song or None
            None where the recipe names none.

        Raises
        ------
        DiskError, MidiFileError
            If the file can't be read.

        Examples
        --------
        >>> Recipe().load_song() is None
        True
        """
        from evenhand.take import read_song

        return None if self.song is None else read_song(self.song, self.song_at)

    def load_against(self) -> "tuple[Take, str] | None":
        """The file of another player and what is meant in it; reads the file.

        Returns
        -------
        (Take, str) or None
            None where the recipe names none.

        Raises
        ------
        DiskError, MidiFileError
            If the file can't be read.

        Examples
        --------
        >>> Recipe().load_against() is None
        True
        """
        from evenhand.recipe.file_names import split_part
        from evenhand.take import read_take

        if self.against is None:
            return None
        name, what = split_part(self.against)
        return read_take(name), what


def need_recipe(recipe: object, function: str) -> Recipe:
    """Refuse what is no recipe, and say what to give.

    Parameters
    ----------
    recipe : object
    function : str
        Whose argument it is.

    Returns
    -------
    Recipe
        That of the defaults for None.

    Raises
    ------
    ArgumentError
        If it is neither a `Recipe` nor None.
    """
    if recipe is None:
        return _defaults()
    if isinstance(recipe, Recipe):
        return recipe
    raise ArgumentError(
        f"{function} takes a recipe, not {type(recipe).__name__}: Recipe(strength=60), or "
        'read_recipe("song.toml")'
    )


@cache
def _defaults() -> Recipe:
    """Made and checked once."""
    return Recipe()


# The settings are listed in the table alone.
Recipe.__doc__ = (Recipe.__doc__ or "").format(attributes=attributes(SETTINGS.values()))
