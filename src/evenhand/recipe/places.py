"""The parts of a recipe that stand at a place: sections with settings, stretches."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from evenhand.errors import SettingError

if TYPE_CHECKING:
    from evenhand.take import MeterMap, Position

#: Checks a setting: its name and value in, the value in order out.
Read = Callable[[str, Any], Any]


@dataclass(frozen=True)
class SectionSettings:
    """A section that has settings of its own.

    Attributes
    ----------
    name : str
        What it is called: by itself the name of a section of the take.
    bars : str
        `5-20` or `5`; empty to find the section by its name.
    settings : tuple of (str, value)
        What differs from the defaults, by name.
    """

    name: str
    bars: str
    settings: tuple[tuple[str, Any], ...]

    @property
    def span(self) -> tuple[int, int] | None:
        """First and last bar; None to find the section by its name."""
        return parse_bars(self.bars) if self.bars else None

    @property
    def label(self) -> str:
        """What to call it."""
        return self.name or f"bars {self.bars}"

    def plain(self) -> dict[str, Any]:
        """The same as a table of a recipe."""
        own = {"name": self.name, "bars": self.bars}
        found: dict[str, Any] = {key: value for key, value in own.items() if value}
        for key, value in self.settings:
            found[key] = list(value) if isinstance(value, tuple) else value
        return found


@dataclass(frozen=True)
class Hold:
    """A stretch that stays as played.

    Attributes
    ----------
    first, last : Position
        Both are held.
    bars : bool
        Whether it was given as whole bars: then it goes from the first beat of the bar of `first`
        to the end of that of `last`.
    """

    first: "Position"
    last: "Position"
    bars: bool = False

    def stretch(self, meter: "MeterMap") -> tuple[float, float]:
        """From where to where it goes, in ticks, both included.

        An early downbeat belongs to the bar that it opens, as it does in sections.

        Parameters
        ----------
        meter : MeterMap

        Raises
        ------
        SettingError
            If a bar has no such beat.
        """
        from evenhand.sections import EARLY
        from evenhand.take import Position

        if not self.bars:
            return meter.stretch(self.first, self.last)
        early = meter.division / EARLY
        begin, stop = (
            meter.to_tick(Position(bar, 1.0)) - early for bar in (self.first.bar, self.last.bar + 1)
        )
        return begin, math.nextafter(stop, -math.inf)

    def beats(self, meter: "MeterMap") -> tuple[float, float]:
        """From where it goes to the beat behind its last place, in ticks.

        Parameters
        ----------
        meter : MeterMap

        Raises
        ------
        SettingError
            If a bar has no such beat.
        """
        last = meter.to_tick(self.last)
        bar = meter.bars_at(last)
        rest = (1.0 - self.last.beat % 1.0) * float(bar.beat_ticks)
        stop = float(bar.stop)
        return meter.to_tick(self.first), stop if self.bars else min(last + rest, stop)


def read_hold(text: str) -> Hold:
    """Read a hold: `17:4-18:1`, one place such as `17:4`, or whole bars, `17-20` or `17`.

    Raises
    ------
    SettingError
        If it is no such thing, or ends before it begins.
    """
    from evenhand.take import Position, parse_position

    if ":" not in text and any(letter.isdigit() for letter in text):
        first_bar, last_bar = parse_bars(text)
        return Hold(Position(first_bar, 1.0), Position(last_bar, 1.0), bars=True)
    first, _, last = text.partition("-")
    begin, end = parse_position(first), parse_position(last if "-" in text else first)
    if end < begin:
        raise SettingError(f"{text!r} ends before it begins")
    return Hold(begin, end)


def parse_bars(text: str) -> tuple[int, int]:
    """Read `5-20`, or one bar such as `5`.

    Raises
    ------
    SettingError
        If it is no such thing, or ends before it begins.
    """
    match = re.fullmatch(r"\s*([0-9]{1,9})(?:\s*-\s*([0-9]{1,9}))?\s*", text)
    if not match or int(match[1]) < 1:
        raise SettingError(f'{text!r} is not a stretch of bars such as "5-20"')
    first, last = int(match[1]), int(match[2] or match[1])
    if last < first:
        raise SettingError(f"{text!r} ends before it begins")
    return first, last


def read_section(name: str, value: Any, checks: Mapping[str, Read]) -> SectionSettings:
    """Check one section of a recipe.

    Parameters
    ----------
    name : str
        Of the setting, for messages.
    value : SectionSettings or mapping
    checks : mapping of str to callable
        Of the settings that a section may have.

    Raises
    ------
    SettingError
        If it has no place, an unknown key or a value that makes no sense; the message names it.
    """
    if isinstance(value, SectionSettings):
        value = value.plain()
    table = read_table(name, value, 'name = "verse 1" or bars = "5-20" and settings')
    called, bars = table.pop("name", ""), table.pop("bars", "")
    if not isinstance(called, str) or not isinstance(bars, str) or not (called or bars):
        raise SettingError(f'{name}: give it a name or bars in quotes, such as bars = "5-20"')
    label = f"{name} {called or bars!r}"
    if bars:
        named(label, lambda: parse_bars(bars))
    settings = []
    for key, given in table.items():
        if key not in checks:
            raise SettingError(
                f"{label}: {key!r} is none of what a section may set: {', '.join(checks)}"
            )
        settings.append((key, named(label, partial(checks[key], key, given))))
    return SectionSettings(called.strip(), bars.strip(), tuple(settings))


def read_table(name: str, value: Any, example: str) -> dict[str, Any]:
    """A table of a recipe as a dict, or an error that shows an example."""
    if not isinstance(value, Mapping):
        raise SettingError(f"{name}: write [[{name}]] with {example}")
    return dict(value)


def named(label: str, work: Callable[[], Any]) -> Any:
    """Do some work; an error of it begins with the label."""
    try:
        return work()
    except SettingError as error:
        raise SettingError(f"{label}: {error}") from None
