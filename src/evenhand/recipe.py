"""The recipe: the settings of a pass, their checks, and their TOML."""

import math
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from evenhand.errors import SettingError
from evenhand.grid.fit import FIT_MODES
from evenhand.grid.lines import Grid, parse_grid
from evenhand.grid.sections import SECTION_SOURCES
from evenhand.grid.tempo import Hints
from evenhand.kit.maps import KIT_MAPS, KitMap, load_kit
from evenhand.kit.pieces import DEFAULT_ANCHORS, parse_piece
from evenhand.places import Nudge, SectionSettings, read_nudge, read_section
from evenhand.plan.dials import FILL_MODES, LANDINGS, PLANS
from evenhand.plan.spans import SPAN_COST
from evenhand.take.files import read_bytes
from evenhand.take.meter import Position, parse_position

AUTO = "auto"
ON, OFF = "on", "off"


@dataclass(frozen=True)
class Recipe:
    """The settings of a pass. Every value is checked when the recipe is made.

    Attributes
    ----------
    grid : str
        `1/4`, `1/8`, `1/16` or `1/32`, with a `T` for triplets; `auto` finds the coarsest that
        explains the hits, with its swing, for each section.
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
            object.__setattr__(self, field.name, _CHECKS[field.name](field.name, value))

    def with_settings(self, settings: Mapping[str, Any]) -> "Recipe":
        """Return the same recipe with some settings replaced.

        Raises
        ------
        SettingError
            If a setting does not exist or its value makes no sense.
        """
        for name in settings:
            if name not in _CHECKS:
                raise SettingError(f"unknown setting {name!r}; there are {', '.join(_CHECKS)}")
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


def parse_hold(text: str) -> tuple[Position, Position]:
    """Read a hold: `17:4-18:1`, or one place such as `17:4`.

    Raises
    ------
    SettingError
        If it is no such thing, or ends before it begins.
    """
    first, _, last = text.partition("-")
    begin, end = parse_position(first), parse_position(last if "-" in text else first)
    if end < begin:
        raise SettingError(f"{text!r} ends before it begins")
    return begin, end


def read_recipe(path: str | Path) -> Recipe:
    """Read a recipe file.

    Parameters
    ----------
    path : str or Path
        A TOML file with the names of the settings, under `[defaults]` or at the top, and holds
        as `hold = ["17:4-18:1"]` or as tables `[[hold]]` with the key `at`. A kit file is looked
        for beside the recipe.

    Raises
    ------
    DiskError
        If the file can't be read.
    SettingError
        If it isn't a recipe; the message names the key.
    """
    path = Path(path)
    try:
        table = tomllib.loads(read_bytes(path).decode("utf-8-sig"))
        settings = _flatten(table)
        if str(settings.get("kit", "")).endswith(".toml"):
            settings["kit"] = str(path.parent / settings["kit"])
        return Recipe().with_settings(settings)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingError(f"{path} is not TOML: {error}") from None
    except SettingError as error:
        raise SettingError(f"{path}: {error}") from None


def recipe_toml(recipe: Recipe) -> str:
    """Write a recipe as TOML that `read_recipe` takes back.

    Settings that are not given (None) are left out. The path of a kit file is written as it
    stands; `read_recipe` looks for it beside the recipe.
    """
    import tomli_w

    settings = recipe.settings().items()
    return tomli_w.dumps(
        {
            name: list(value) if isinstance(value, tuple) else value
            for name, value in settings
            if value is not None
        }
    )


def _flatten(table: dict[str, Any]) -> dict[str, Any]:
    defaults = table.pop("defaults", {})
    if not isinstance(defaults, dict):
        raise SettingError("defaults: write a table, [defaults]")
    twice = sorted(set(table) & set(defaults))
    if twice:
        raise SettingError(f"{twice[0]} stands twice: at the top and under [defaults]")
    settings = {**table, **defaults}
    holds = settings.get("hold")
    if isinstance(holds, list):
        settings["hold"] = [_hold_text(hold) for hold in holds]
    return settings


def _hold_text(hold: Any) -> Any:
    if not isinstance(hold, dict):
        return hold
    if set(hold) != {"at"}:
        raise SettingError('hold: write [[hold]] with one key, at = "17:4-18:1"')
    return hold["at"]


#: No chain is later than this, ms; far beyond it times overflow. Common practice.
_LONGEST_LATENCY = 10_000

_Check = Callable[[str, Any], Any]


def _number(low: float, high: float = math.inf) -> _Check:
    limits = f"{low:g} to {high:g}" if high < math.inf else f"{low:g} or more"

    def check(name: str, value: Any) -> float:
        sound = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not sound or not math.isfinite(value) or not low <= value <= high:
            raise SettingError(f"{name}: {value!r} is not {limits}")
        return float(value)

    return check


def _whole(low: int, high: int) -> _Check:
    def check(name: str, value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise SettingError(f"{name}: {value!r} is not a whole number from {low} to {high}")
        return value

    return check


def _or(word: str | None, check: _Check) -> _Check:
    """Let one word (or None) through, check anything else."""

    def check_other(name: str, value: Any) -> Any:
        if value == word:
            return value
        try:
            return check(name, value)
        except SettingError as error:
            raise SettingError(f"{error}, nor {word}" if word else str(error)) from None

    return check_other


def _words(parse: Callable[[str], Any], keep_text: bool, least: int) -> _Check:
    def check(name: str, value: Any) -> tuple[str, ...]:
        if isinstance(value, str) or not isinstance(value, Iterable):
            raise SettingError(f"{name}: {value!r} is not a list of words")
        words = []
        for text in value:
            if not isinstance(text, str):
                raise SettingError(f"{name}: {text!r} is not a word in quotes")
            parsed = _parsed(name, parse, text)
            words.append(text.strip() if keep_text else parsed)
        if len(words) < least:
            raise SettingError(f"{name}: the list is empty")
        return tuple(dict.fromkeys(words))

    return check


def _parsed(name: str, parse: Callable[[str], Any], text: str) -> Any:
    try:
        return parse(text)
    except SettingError as error:
        raise SettingError(f"{name}: {error}") from None


def _grid(name: str, value: Any) -> str:
    if not isinstance(value, str):
        raise SettingError(f'{name}: {value!r} is not a grid such as "1/16"')
    if value.strip().lower() == AUTO:
        return AUTO
    parse_grid(value)
    return value.strip().upper()


def _sections(name: str, value: Any) -> str:
    if value not in SECTION_SOURCES:
        raise SettingError(f"{name}: {value!r} is none of {', '.join(SECTION_SOURCES)}")
    return str(value)


def _meter(name: str, value: Any) -> str:
    match = re.fullmatch(r"([1-9]|[12][0-9]|3[0-2])/(2|4|8|16)", str(value).strip())
    if not match:
        raise SettingError(f"{name}: {value!r} is not a meter such as 3/4")
    return match[0]


def _kit(name: str, value: Any) -> str:
    if not isinstance(value, str) or (value not in KIT_MAPS and not value.endswith(".toml")):
        raise SettingError(f"{name}: {value!r} is neither gm nor ekit nor a .toml file")
    return value


def _choice(*words: str) -> _Check:
    def check(name: str, value: Any) -> str:
        if value not in words:
            raise SettingError(f"{name}: {value!r} is none of {', '.join(words)}")
        return str(value)

    return check


def _switch(name: str, value: Any) -> str:
    if isinstance(value, bool):
        return ON if value else OFF
    return str(_choice(ON, OFF)(name, value))


def _tables(read: Callable[[str, Any], Any]) -> _Check:
    def check(name: str, value: Any) -> tuple[Any, ...]:
        if isinstance(value, str | Mapping) or not isinstance(value, Iterable):
            raise SettingError(f"{name}: write tables, [[{name}]]")
        return tuple(read(name, one) for one in value)

    return check


_CHECKS: dict[str, _Check] = {
    "grid": _grid,
    "sections": _sections,
    "swing": _number(20, 80),
    "window": _or(AUTO, _number(0)),
    "strength": _number(0, 100),
    "reach": _number(0, 100),
    "together": _number(0),
    "latency": _or(AUTO, _number(-_LONGEST_LATENCY, _LONGEST_LATENCY)),
    "ghost_below": _or(AUTO, _whole(1, 128)),
    "anchor": _words(parse_piece, keep_text=False, least=1),
    "kit": _kit,
    "channel": _or(None, _whole(1, 16)),
    "hold": _words(parse_hold, keep_text=True, least=0),
    "resolution": _or(None, _whole(24, 32767)),
    "lean": _number(0, 100),
    "lean_follow": _number(0, 1000),
    "fills": _choice(*FILL_MODES),
    "fill_landing": _choice(*LANDINGS),
    "ornaments": _switch,
    "plan": _choice(*PLANS),
    "span_cost": _number(0),
    "fit": _choice(OFF, *FIT_MODES),
    "smooth": _number(0.25, 64),
    "near": _or(None, _number(36, 320)),
    "meter": _or(None, _meter),
    "first_beat": _or(None, _number(-_LONGEST_LATENCY, math.inf)),
}

#: What speaks of the take as a whole, and so can't differ between sections.
_OF_THE_TAKE = (
    *("sections", "latency", "kit", "channel", "hold", "resolution"),
    *("fit", "smooth", "near", "meter", "first_beat"),
)
_OF_A_SECTION = {name: check for name, check in _CHECKS.items() if name not in _OF_THE_TAKE}

_CHECKS["section"] = _tables(lambda name, one: read_section(name, one, _OF_A_SECTION))
_CHECKS["nudge"] = _tables(read_nudge)
