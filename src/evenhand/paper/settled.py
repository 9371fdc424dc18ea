"""The full recipe of a run: what was found stands in it as if it had been set by hand."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from evenhand.ground import Ground
from evenhand.paper.terminal import printable
from evenhand.recipe import AUTO, MOVE, STAY, Recipe, recipe_toml, seen_from

#: What else a section is to say: its index in, settings by name out.
More = Callable[[int], dict[str, Any]]


def settled_recipe(ground: Ground, recipe: Recipe, more: More | None = None) -> Recipe:
    """Set down what was found, so that the same take gives the same result again.

    The latency, the ghost limit, and each section with its bars, its grid and its swing. Where no
    grid explains a section, its grid stays to be found: it comes out the same.

    Parameters
    ----------
    ground : Ground
        What the recipe found in the take.
    recipe : Recipe
    more : callable, optional
        Further settings for each section; they win over those of the recipe.
    """
    found: dict[str, Any] = {
        "latency": ground.latency,
        "ghost_below": max(1, ground.ghosts.velocity),
        "syncopation": _syncopation(recipe),
    }
    sections = ground.layout.sections
    if len(sections) == 1 and ground.owner[0] < 0:
        whole = _grid_of(ground, 0) | (more(0) if more else {})
        return recipe.with_settings(found | whole)
    tables = []
    for index, (label, (first, last)) in enumerate(
        zip(sections.labels, sections.bars, strict=True)
    ):
        bars = f"{first}-{last}" if last > first else str(first)
        table: dict[str, Any] = {"name": label, "bars": bars}
        own = recipe.section[ground.owner[index]].settings if ground.owner[index] >= 0 else ()
        settings = dict(own) | _grid_of(ground, index) | (more(index) if more else {})
        wanted = _syncopation(ground.recipes[index])
        if "syncopation" in settings or wanted != found["syncopation"]:
            settings["syncopation"] = wanted
        tables.append(table | settings)
    return recipe.with_settings(found | {"section": tables})


def _grid_of(ground: Ground, index: int) -> dict[str, Any]:
    """The grid that was found for a section; nothing where it was given, or there is none."""
    grid = ground.layout.grids[index]
    if ground.recipes[index].lines or grid is None:
        return {}
    return {"grid": grid.name, "swing": grid.swing}


def _syncopation(recipe: Recipe) -> str:
    """What `auto` comes to: once a grid that was found is given, it would come to another thing."""
    if recipe.syncopation != AUTO:
        return recipe.syncopation
    return MOVE if recipe.lines else STAY


def settled_toml(
    title: str, path: Path, ground: Ground, recipe: Recipe, more: More | None = None
) -> bytes:
    """A settled recipe as a file for `path`, under a title; see `settled_recipe`.

    Files that it names are named as seen from there.
    """
    settled = settled_recipe(ground, recipe, more)
    settled = seen_from(path, settled)
    return f"# {printable(title)}\n\n{recipe_toml(settled)}".encode()
