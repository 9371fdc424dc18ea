"""The check of each setting: its name and value in, the value in order out, or a refusal."""

import math
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from evenhand.errors import SettingError
from evenhand.grid import parse_grid
from evenhand.kit import KIT_MAPS, parse_piece
from evenhand.pulse import FIT_MODES
from evenhand.recipe.modes import AUTO, FILL_MODES, LANDINGS, OFF, ON, PLANS, SYNCOPATIONS
from evenhand.recipe.places import Check, parse_hold, read_nudge, read_section
from evenhand.sections import SECTION_SOURCES

#: No chain is later than this, ms; far beyond it times overflow. Common practice.
_LONGEST_LATENCY = 10_000


def _number(low: float, high: float = math.inf) -> Check:
    limits = f"{low:g} to {high:g}" if high < math.inf else f"{low:g} or more"

    def check(name: str, value: Any) -> float:
        sound = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not sound or not math.isfinite(value) or not low <= value <= high:
            raise SettingError(f"{name}: {value!r} is not {limits}")
        return float(value)

    return check


def _whole(low: int, high: int) -> Check:
    def check(name: str, value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise SettingError(f"{name}: {value!r} is not a whole number from {low} to {high}")
        return value

    return check


def _or(word: str | None, check: Check) -> Check:
    """Let one word (or None) through, check anything else."""

    def check_other(name: str, value: Any) -> Any:
        if value == word:
            return value
        try:
            return check(name, value)
        except SettingError as error:
            raise SettingError(f"{error}, nor {word}" if word else str(error)) from None

    return check_other


def _words(parse: Callable[[str], Any], keep_text: bool, least: int) -> Check:
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


def _choice(*words: str) -> Check:
    def check(name: str, value: Any) -> str:
        if value not in words:
            raise SettingError(f"{name}: {value!r} is none of {', '.join(words)}")
        return str(value)

    return check


def _switch(name: str, value: Any) -> str:
    if isinstance(value, bool):
        return ON if value else OFF
    return str(_choice(ON, OFF)(name, value))


def _tables(read: Callable[[str, Any], Any]) -> Check:
    def check(name: str, value: Any) -> tuple[Any, ...]:
        if isinstance(value, str | Mapping) or not isinstance(value, Iterable):
            raise SettingError(f"{name}: write tables, [[{name}]]")
        return tuple(read(name, one) for one in value)

    return check


#: Every setting with its check.
CHECKS: dict[str, Check] = {
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
    "syncopation": _choice(*SYNCOPATIONS),
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
#: What a section may set.
OF_A_SECTION = {name: check for name, check in CHECKS.items() if name not in _OF_THE_TAKE}

CHECKS["section"] = _tables(lambda name, one: read_section(name, one, OF_A_SECTION))
CHECKS["nudge"] = _tables(read_nudge)
