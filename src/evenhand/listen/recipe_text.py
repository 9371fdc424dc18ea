"""The recipe of a run as TOML, for the page to build on."""

from dataclasses import fields
from typing import Any

from evenhand.recipe import TABLES, Recipe


def defaults_toml(recipe: Recipe) -> str:
    """Write `[defaults]` with all settings that are not the usual ones.

    Sections, holds and nudges are left out, because the page writes them itself; so is a kit
    file, which is named relative to its recipe and so is given in the command instead.

    Examples
    --------
    >>> print(defaults_toml(Recipe(strength=60)))
    [defaults]
    strength = 60.0
    """
    import tomli_w

    settings = {}
    for field in fields(recipe):
        value = getattr(recipe, field.name)
        kit_file = field.name == "kit" and str(value).endswith(".toml")
        if field.name not in TABLES and not kit_file and value not in (None, field.default):
            settings[field.name] = list(value) if isinstance(value, tuple) else value
    return tomli_w.dumps({"defaults": settings}).strip()


def section_tables(recipe: Recipe) -> list[dict[str, Any]]:
    """The sections of a recipe: name, bars (None if it has only a name), each value as TOML."""
    import tomli_w

    tables = []
    for one in recipe.settings()["section"]:
        lines = tomli_w.dumps(one).strip().split("\n")
        values = dict(line.split(" = ", 1) for line in lines)
        tables.append({"name": one.get("name"), "bars": one.get("bars"), "values": values})
    return tables
