"""Recipes as TOML: read, and written so that they can be read again."""

from pathlib import Path
from typing import Any

from evenhand.errors import SettingError
from evenhand.recipe.file_names import BESIDE
from evenhand.recipe.settings import Recipe
from evenhand.recipe.table import STRETCHES, TABLES


def read_recipe(path: str | Path) -> Recipe:
    """Read a recipe file.

    Parameters
    ----------
    path : str or Path
        A TOML file with the names of the settings, under `[defaults]` or at the top, and holds
        as `hold = ["17:4-18:1"]` or as tables `[[hold]]` with the key `at`, fills and grooves
        too. Files that it names are looked for beside the recipe.

    Returns
    -------
    Recipe

    Raises
    ------
    DiskError
        If the file can't be read.
    SettingError
        If it isn't a recipe; the message names the key.

    Examples
    --------
    >>> read_recipe("kettle-weather.recipe.toml").strength
    80.0
    """
    from evenhand.take import read_toml

    path = Path(path)
    table = read_toml(path)
    try:
        settings = _flatten(table)
        if str(settings.get("kit", "")).endswith(".toml"):
            settings["kit"] = str(path.parent / settings["kit"])
        for name in BESIDE:
            if isinstance(settings.get(name), str):
                settings[name] = str(path.parent / settings[name])
        return Recipe().with_settings(settings)
    except SettingError as error:
        raise SettingError(f"{path}: {error}") from None


def recipe_toml(recipe: Recipe) -> str:
    """Write a recipe as TOML that `read_recipe` takes back.

    Settings under `[defaults]`, then sections, nudges and stretches (holds, fills, grooves) as
    tables that more can be added to by hand. Settings that are not given (None) are left out.
    The path of a kit file is written as it stands; `read_recipe` looks for it beside the recipe.

    Parameters
    ----------
    recipe : Recipe
    """
    import tomli_w

    settings = {name: value for name, value in recipe.settings().items() if value is not None}
    tables = {name: list(settings.pop(name)) for name in TABLES}
    for name in STRETCHES:
        tables[name] = [{"at": text} for text in tables[name]]
    plain = {
        name: list(value) if isinstance(value, tuple) else value for name, value in settings.items()
    }
    parts = [("[defaults]", plain)]
    parts += [(f"[[{name}]]", table) for name, some in tables.items() for table in some]
    return "\n".join(f"{head}\n{tomli_w.dumps(table)}" for head, table in parts)


def _flatten(table: dict[str, Any]) -> dict[str, Any]:
    defaults = table.pop("defaults", {})
    if not isinstance(defaults, dict):
        raise SettingError("defaults: write a table, [defaults]")
    twice = sorted(set(table) & set(defaults))
    if twice:
        raise SettingError(f"{twice[0]} stands twice: at the top and under [defaults]")
    settings = {**table, **defaults}
    for name in STRETCHES:
        given = settings.get(name)
        if isinstance(given, list):
            settings[name] = [_stretch_text(name, one) for one in given]
    return settings


def _stretch_text(name: str, stretch: Any) -> Any:
    if not isinstance(stretch, dict):
        return stretch
    if set(stretch) != {"at"}:
        raise SettingError(f'{name}: write [[{name}]] with one key, at = "17:4-18:1"')
    return stretch["at"]
