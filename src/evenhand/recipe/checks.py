"""The kinds of settings: each checks a value, and knows its range, its words and its option.

What a kind has to ask of other rooms it asks when it is used, so that help pages need none of
them.
"""

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from evenhand.errors import SettingError
from evenhand.recipe.modes import AUTO, OFF, ON

#: Takes the name of a setting and a value; gives the value in order or refuses it by name.
Order = Callable[[str, Any], Any]

NUMBER, CHOICE, TEXT, LIST, TABLES = "number", "choice", "text", "list", "tables"


def _none() -> tuple[str, ...]:
    return ()


def _same(value: Any) -> Any:
    return value


@dataclass(frozen=True)
class Check:
    """A kind of setting.

    Attributes
    ----------
    order : callable
        Puts a value in order; raises `SettingError`, whose message begins with the name.
    kind : str
        `NUMBER`, `CHOICE`, `TEXT`, `LIST` or `TABLES`.
    shown : str
        Its type, for programmers.
    option : type or None
        What the command line takes for it; None if it stands in recipes only.
    read : callable
        Makes a value of what the command line took.
    limits : (float, float), optional
        The lowest and the highest number; infinity where there is no end.
    whole : bool
        Whether it is a whole number.
    words : callable
        Gives the words that it may be: all there are, or those besides a number.
    """

    order: Order
    kind: str = TEXT
    shown: str = "str"
    option: Any = str
    read: Callable[[Any], Any] = _same
    limits: tuple[float, float] | None = None
    whole: bool = False
    words: Callable[[], tuple[str, ...]] = _none

    def __call__(self, name: str, value: Any) -> Any:
        """Put a value in order, or refuse it by name."""
        return self.order(name, value)


def number(low: float, high: float = math.inf, *, word: str = "", optional: bool = False) -> Check:
    """A number from `low` to `high`; or one word instead; or, if `optional`, None."""
    limits = f"{low:g} to {high:g}" if high < math.inf else f"{low:g} or more"

    def order(name: str, value: Any) -> float:
        sound = isinstance(value, int | float) and not isinstance(value, bool) and _finite(value)
        if not sound or not low <= value <= high:
            raise SettingError(f"{name}: {value!r} is not {limits}{_nor(word)}")
        return float(value)

    return _numbers(order, float, (low, high), word, optional)


def whole(low: int, high: int, *, word: str = "", optional: bool = False) -> Check:
    """A whole number from `low` to `high`; or one word instead; or, if `optional`, None."""

    def order(name: str, value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise SettingError(
                f"{name}: {value!r} is not a whole number from {low} to {high}{_nor(word)}"
            )
        return value

    return _numbers(order, int, (low, high), word, optional)


def _numbers(
    order: Order, number: type, limits: tuple[float, float], word: str, optional: bool
) -> Check:
    def order_all(name: str, value: Any) -> Any:
        if (optional and value is None) or (word and value == word):
            return value
        return order(name, value)

    def read(value: Any) -> Any:
        try:
            return number(value)
        except ValueError:
            return value

    return Check(
        order_all,
        NUMBER,
        number.__name__ + (f' or "{word}"' if word else ", optional" if optional else ""),
        str if word else number,
        read,
        limits,
        number is int,
        lambda: (word,) if word else (),
    )


def _nor(word: str) -> str:
    return f", nor {word}" if word else ""


def _finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number of more digits than a float has room for
        return False


def choice(words: Callable[[], tuple[str, ...]] | tuple[str, ...]) -> Check:
    """One word of a list."""
    listed = words if callable(words) else lambda: words

    def order(name: str, value: Any) -> str:
        if value not in listed():
            raise SettingError(f"{name}: {value!r} is none of {', '.join(listed())}")
        return str(value)

    return Check(order, CHOICE, words=listed)


def switch() -> Check:
    """On or off; true and false will do."""
    either = choice((ON, OFF))

    def order(name: str, value: Any) -> Any:
        if isinstance(value, bool):
            return ON if value else OFF
        return either(name, value)

    return Check(order, CHOICE, words=either.words)


def grid_name() -> Check:
    """The name of a grid, or `auto`."""

    def words() -> tuple[str, ...]:
        from evenhand.grid import GRID_NAMES

        return (AUTO, *GRID_NAMES)

    def order(name: str, value: Any) -> str:
        if not isinstance(value, str):
            raise SettingError(f'{name}: {value!r} is not a grid such as "1/16"')
        found = {one.upper(): one for one in words()}.get(value.strip().upper())
        if found is None:
            raise SettingError(f"{name}: {value!r} is none of {', '.join(words())}")
        return found

    return Check(order, CHOICE, words=words)


def meter_name() -> Check:
    """A meter such as 3/4, or None."""

    def order(name: str, value: Any) -> str | None:
        if value is None:
            return None
        match = re.fullmatch(r"([1-9]|[12][0-9]|3[0-2])/(2|4|8|16)", str(value).strip())
        if not match:
            raise SettingError(f"{name}: {value!r} is not a meter such as 3/4")
        return match[0]

    return Check(order, shown="str, optional")


def kit_name() -> Check:
    """A kit map by name, or a kit file."""

    def order(name: str, value: Any) -> str:
        from evenhand.kit import KIT_MAPS

        if not isinstance(value, str) or (value not in KIT_MAPS and not value.endswith(".toml")):
            raise SettingError(f"{name}: {value!r} is neither gm nor ekit nor a .toml file")
        return value

    return Check(order)


def texts(parse: Callable[[str], Any], *, keep_text: bool, least: int) -> Check:
    """Any number of texts that can be parsed, kept as they stand or as parsed."""

    def order(name: str, value: Any) -> tuple[str, ...]:
        if isinstance(value, str) or not isinstance(value, Iterable):
            raise SettingError(f"{name}: {value!r} is not a list of words")
        found = []
        for text in value:
            if not isinstance(text, str):
                raise SettingError(f"{name}: {text!r} is not a word in quotes")
            parsed = _parsed(name, parse, text)
            found.append(text.strip() if keep_text else parsed)
        if len(found) < least:
            raise SettingError(f"{name}: the list is empty")
        return tuple(dict.fromkeys(found))

    return Check(order, LIST, "tuple of str", list[str])


def _parsed(name: str, parse: Callable[[str], Any], text: str) -> Any:
    try:
        return parse(text)
    except SettingError as error:
        raise SettingError(f"{name}: {error}") from None


def pieces(usual: tuple[str, ...], parse: Callable[[str], tuple[str, ...]]) -> Check:
    """Any number of words that stand for pieces; `+` before one adds to the usual ones."""
    words = texts(lambda text: parse(text.strip().removeprefix("+")), keep_text=True, least=1)

    def order(name: str, value: Any) -> tuple[str, ...]:
        given = words(name, value)
        found = list(usual) if any(text.startswith("+") for text in given) else []
        for text in given:
            found += parse(text.removeprefix("+"))
        return tuple(dict.fromkeys(found))

    return replace(words, order=order)


def tables(read: Order) -> Check:
    """Any number of tables of a recipe, each with a reader of its own."""

    def order(name: str, value: Any) -> tuple[Any, ...]:
        if isinstance(value, str | Mapping) or not isinstance(value, Iterable):
            raise SettingError(f"{name}: write tables, [[{name}]]")
        return tuple(read(name, one) for one in value)

    return Check(order, TABLES, "tuple of tables", None)
