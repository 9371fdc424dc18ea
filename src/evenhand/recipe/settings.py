"""The settings of a pass, as one value."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from evenhand.errors import SettingError
from evenhand.grid import Grid, parse_grid
from evenhand.kit import DEFAULT_ANCHORS, KitMap, load_kit
from evenhand.pulse import Hints
from evenhand.recipe.checks import CHECKS
from evenhand.recipe.modes import (
    AUTO,
    FILL_MODES,
    LANDINGS,
    OFF,
    ON,
    PLANS,
    SPAN_COST,
    SYNCOPATIONS,
)
from evenhand.recipe.places import Nudge, SectionSettings, parse_hold
from evenhand.take import Position


@dataclass(frozen=True)
class Recipe:
    """The settings of a pass. Every value is checked when the recipe is made.

    Attributes
    ----------
    grid : str
        `1/4`, `1/8`, `1/16` or `1/32`, with a `T` for triplets, `1/16Q` or `1/16S` for five or
        seven in a quarter; `auto` finds the coarsest that explains the hits, with its swing, for
        each section.
    sections : "auto", "markers" or "none"
        Where sections come from: markers in the file if there are any, otherwise found; markers
        only; the take as a whole. A fixed grid is the same in all.
    swing : float
        Where the second line of each pair stands, percent of the pair: 50 straight, 66.7 triplet
        (20 to 80). With the grid `auto`, 50 means that it is found too.
    window : float or "auto"
        How far off a stroke may be and still be left alone, ms; `auto` is the just-noticeable
        difference at the beat, max(6 ms, 2.5 % of the beat) (Friberg & Sundberg 1995).
    strength : float
        How much of the excess a move takes away, percent (0 to 100).
    reach : float
        How far from a line a stroke may be and still belong to it, percent of the gap (0 to 100).
    together : float
        Anchor hits no further apart than this are one stroke, ms.
    latency : float or "auto"
        How late the recording chain wrote every hit, ms (-10,000 to 10,000); `auto` takes the
        lean of the whole take for it, which can as well be feel.
    ghost_below : int or "auto"
        Snare hits softer than this are ghosts (velocity, 1 to 128).
    anchor : tuple of str
        The pieces whose hits are anchors.
    kit : str
        `gm`, `ekit`, or the path of a kit file.
    channel : int, optional
        MIDI channel of the drums, 1 to 16; found if not given.
    hold : tuple of str
        Places that stay as played, `A-B` or `A`, positions `bar:beat`.
    resolution : int, optional
        Ticks per quarter note to write with: a whole multiple of the file's.
    lean : float
        How much of a section's own push or drag strokes keep, percent (0 to 100).
    lean_follow : float
        Bars on each side over which the lean may drift; 0 keeps it constant in a section.
    fills : "loose", "tight" or "as-played"
        Only the ends of a fill are anchors; like anything else; held.
    fill_landing : "tight" or "as-played"
        Whether the stroke that a fill lands on is an anchor like others, or held.
    ornaments : "on" or "off"
        Whether graces and buzzes move rigidly with their main hit and rolls are carried.
    plan : "hits" or "spans"
        Each stroke outside its window moves by its strength; or strokes that err alike move
        together, into their windows and no further.
    span_cost : float
        What a span costs, ms of movement.
    syncopation : "auto", "stay" or "move"
        Whether a stroke that stands on a line of the other subdivision on purpose stays there;
        `auto`: where the grid was found, not where it is given.
    section : tuple of SectionSettings
        Sections with settings of their own.
    nudge : tuple of Nudge
        Strokes that the hand puts elsewhere.
    fit : "off", "auto", "steady" or "follow"
        Whether bars and beats are first laid where they were played, and how.
    smooth : float
        Over how many bars a tempo that is followed is smoothed (0.25 to 64).
    near : float, optional
        About the tempo, bpm (36 to 320), as a hint for the fit.
    meter : str, optional
        Such as `3/4`, as a hint for the fit.
    first_beat : float, optional
        Where the first beat of a bar lies, ms, as a hint for the fit.

    Raises
    ------
    SettingError
        If a value makes no sense; the message names the setting.
    """

    grid: str = AUTO
    sections: str = AUTO
    swing: float = 50.0
    window: float | str = AUTO
    strength: float = 75.0
    reach: float = 40.0
    together: float = 20.0
    latency: float | str = 0.0
    ghost_below: int | str = AUTO
    anchor: tuple[str, ...] = DEFAULT_ANCHORS
    kit: str = "ekit"
    channel: int | None = None
    hold: tuple[str, ...] = ()
    resolution: int | None = None
    lean: float = 50.0
    lean_follow: float = 0.0
    fills: str = FILL_MODES[0]
    fill_landing: str = LANDINGS[0]
    ornaments: str = ON
    plan: str = PLANS[0]
    span_cost: float = SPAN_COST
    syncopation: str = SYNCOPATIONS[0]
    section: tuple[SectionSettings, ...] = ()
    nudge: tuple[Nudge, ...] = ()
    fit: str = OFF
    smooth: float = 1.0
    near: float | None = None
    meter: str | None = None
    first_beat: float | None = None

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            object.__setattr__(self, field.name, CHECKS[field.name](field.name, value))

    def with_settings(self, settings: Mapping[str, Any]) -> "Recipe":
        """Return the same recipe with some settings replaced.

        Raises
        ------
        SettingError
            If a setting does not exist or its value makes no sense.
        """
        for name in settings:
            if name not in CHECKS:
                raise SettingError(f"unknown setting {name!r}; there are {', '.join(CHECKS)}")
        return replace(self, **settings)

    def settings(self) -> dict[str, Any]:
        """All settings by name, as plain values."""
        settings = {field.name: getattr(self, field.name) for field in fields(self)}
        settings["section"] = tuple(one.plain() for one in self.section)
        settings["nudge"] = tuple(one.plain() for one in self.nudge)
        return settings

    def for_section(self, index: int) -> "Recipe":
        """The settings in one of its sections; the defaults for -1."""
        return self.with_settings(dict(self.section[index].settings)) if index >= 0 else self

    @property
    def lines(self) -> Grid | None:
        """The grid with its swing; None to find it from the take."""
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
    def ghost_limit(self) -> int | None:
        """The ghost limit; None to find it from the take."""
        return None if isinstance(self.ghost_below, str) else self.ghost_below

    @property
    def holds(self) -> tuple[tuple[Position, Position], ...]:
        """First and last position of each hold."""
        return tuple(parse_hold(text) for text in self.hold)

    @property
    def hints(self) -> Hints:
        """What is known beforehand of tempo and meter."""
        beats, unit = map(int, self.meter.split("/")) if self.meter else (None, None)
        first = None if self.first_beat is None else self.first_beat / 1000
        return Hints(self.near, beats, unit, first)

    def load_kit(self) -> KitMap:
        """The kit map; reads its file if it is one."""
        return load_kit(self.kit)
