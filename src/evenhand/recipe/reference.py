"""What the table of settings says, for pages and for docs: plain data and text made from it."""

import math
import textwrap
from collections.abc import Iterable
from typing import Any

from evenhand.recipe.setting import SECTION, Setting
from evenhand.recipe.table import SETTINGS


def page_fields() -> list[dict[str, Any]]:
    """Every setting as plain data that a page can make its fields from.

    Returns
    -------
    list of dict
        In the order of the table, each with the keys

        - `name`: in a recipe;
        - `kind`: `number`, `choice`, `text`, `list` or `tables`;
        - `unit`: of its numbers, or empty;
        - `low`, `high`: the range; None where there is no end, or no number;
        - `whole`: whether it is a whole number;
        - `choices`: the words that it may be, besides a number or instead;
        - `default`: as in a recipe; None where nothing is set, and `unset` says what holds then;
        - `section`: whether a section may set it;
        - `needs`: the setting without which it does nothing, or empty;
        - `group`, `usual`: where it stands, and whether it is one of the usual ones;
        - `words`, `more`: what it means, literal values in backticks.
    """
    return [_field(one) for one in SETTINGS.values()]


def _field(one: Setting) -> dict[str, Any]:
    low, high = one.check.limits or (None, None)
    return {
        "name": one.name,
        "kind": one.check.kind,
        "unit": one.unit,
        "low": low,
        "high": None if high == math.inf else high,
        "whole": one.check.whole,
        "choices": list(one.check.words()),
        "default": list(one.default) if isinstance(one.default, tuple) else one.default,
        "unset": one.unset,
        "section": one.where == SECTION,
        "needs": one.needs,
        "group": one.group,
        "usual": one.usual,
        "words": one.words,
        "more": one.more,
    }


def settings_table() -> str:
    """All settings as a table in Markdown."""
    rows = ["| setting | default | range | section | what |", "| --- | --- | --- | --- | --- |"]
    for one in SETTINGS.values():
        cells = (f"`{one.name}`", _default(one), _range(one), _section(one), _what(one))
        rows.append(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |")
    return "\n".join(rows) + "\n"


def attributes(settings: Iterable[Setting]) -> str:
    """All settings as the part of a docstring that tells attributes, indented by four."""
    parts = ["Attributes\n----------"]
    for one in settings:
        limits = f" Range: {_range(one)}." if one.check.limits else ""
        words = textwrap.fill(f"{one.words}{_more(one)}{limits}", 92)
        parts.append(f"{one.name} : {one.check.shown}\n{textwrap.indent(words, '    ')}")
    return textwrap.indent("\n".join(parts), "    ").lstrip()


def _default(one: Setting) -> str:
    if one.default in (None, ()):
        return one.unset
    if isinstance(one.default, tuple):
        return "`[" + ", ".join(f'"{text}"' for text in one.default) + "]`"
    return f'`"{one.default}"`' if isinstance(one.default, str) else f"`{one.default:g}`"


def _range(one: Setting) -> str:
    if not one.check.limits:
        return ", ".join(f"`{word}`" for word in one.check.words())
    low, high = one.check.limits
    unit = f" {one.unit}" if one.unit else ""
    ends = f"{low:,g} to {high:,g}{unit}" if high < math.inf else f"{low:,g}{unit} or more"
    return ends + "".join(f", or `{word}`" for word in one.check.words())


def _section(one: Setting) -> str:
    return "yes" if one.where == SECTION else ""


def _what(one: Setting) -> str:
    needs = f" Needs `{one.needs}`." if one.needs else ""
    ways = ""
    if one.switches:
        ways = (
            " Options: "
            + ", ".join(f"`--{name.replace('_', '-')}`" for name, *_ in one.switches)
            + "."
        )
    return f"{one.words}{_more(one)}{needs}{ways}"


def _more(one: Setting) -> str:
    return f" {one.more}" if one.more else ""
