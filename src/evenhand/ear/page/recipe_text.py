"""The recipe of a run as TOML, for the page to build on."""

import json
from dataclasses import fields
from typing import Any

from evenhand.recipe import Recipe

#: Holds are written by the page itself; a kit file is named relative to its recipe, and so is
#: given in the command instead.
_LEFT_OUT = ("hold",)


def recipe_toml(recipe: Recipe) -> str:
    """Write `[defaults]` with all settings that are not the usual ones.

    Examples
    --------
    >>> print(recipe_toml(Recipe(strength=60)))
    [defaults]
    strength = 60.0
    """
    lines = ["[defaults]"]
    for field in fields(recipe):
        value = getattr(recipe, field.name)
        kit_file = field.name == "kit" and str(value).endswith(".toml")
        if field.name not in _LEFT_OUT and not kit_file and value not in (None, field.default):
            lines.append(f"{field.name} = {_value(value)}")
    return "\n".join(lines)


def _value(value: Any) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, str):
        # A JSON string is a TOML string, but for one control character that JSON lets stand.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return str(value)
