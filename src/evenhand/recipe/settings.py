"""The settings of a pass, as one value."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

from evenhand.errors import SettingError
from evenhand.recipe.checks import TABLES
from evenhand.recipe.modes import ANCHORS, AUTO, HITS, REACH
from evenhand.recipe.places import Hold, read_hold
from evenhand.recipe.reference import attributes
from evenhand.recipe.table import SETTINGS, Table

if TYPE_CHECKING:
    from evenhand.grid import Grid
    from evenhand.kit import KitMap
    from evenhand.pulse import Hints
    from evenhand.take import Song, Take


@dataclass(frozen=True)
class Recipe(Table):
    """The settings of a pass. Every value is checked when the recipe is made.

    {attributes}

    Raises
    ------
    SettingError
        If a value makes no sense; the message names the setting.
    """

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            object.__setattr__(self, field.name, SETTINGS[field.name].check(field.name, value))

    def with_settings(self, settings: Mapping[str, Any]) -> "Recipe":
        """Return the same recipe with some settings replaced.

        Raises
        ------
        SettingError
            If a setting does not exist or its value makes no sense.
        """
        for name in settings:
            if name not in SETTINGS:
                raise SettingError(f"unknown setting {name!r}; there are {', '.join(SETTINGS)}")
        return replace(self, **settings)

    def settings(self) -> dict[str, Any]:
        """All settings by name, as plain values."""
        settings = {field.name: getattr(self, field.name) for field in fields(self)}
        for name, value in settings.items():
            if SETTINGS[name].check.kind == TABLES:
                settings[name] = tuple(one.plain() for one in value)
        return settings

    def for_section(self, index: int) -> "Recipe":
        """The settings in one of its sections; the defaults for -1."""
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
        """The stretches that are named as `fill` or as `groove`, read."""
        return tuple(read_hold(text) for text in getattr(self, name))

    @property
    def hints(self) -> "Hints":
        """What is known beforehand of tempo and meter."""
        from evenhand.pulse import Hints

        beats, unit = map(int, self.meter.split("/")) if self.meter else (None, None)
        first = None if self.first_beat is None else self.first_beat / 1000
        return Hints(self.near, beats, unit, first)

    def load_kit(self) -> "KitMap":
        """The kit map; reads its file if it is one."""
        from evenhand.kit import load_kit

        return load_kit(self.kit)

    def load_song(self) -> "Song | None":
        """The song, and where in it the take begins; reads its file."""
        from evenhand.take import read_song

        return None if self.song is None else read_song(self.song, self.song_at)

    def load_against(self) -> "tuple[Take, str] | None":
        """The file of another player and what is meant in it; reads the file."""
        from evenhand.recipe.files import split_part
        from evenhand.take import read_take

        if self.against is None:
            return None
        name, what = split_part(self.against)
        return read_take(name), what


# The settings are listed in the table alone.
Recipe.__doc__ = (Recipe.__doc__ or "").format(attributes=attributes(SETTINGS.values()))
