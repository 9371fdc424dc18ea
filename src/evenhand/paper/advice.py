"""The advice of an assessment as a recipe to begin with."""

from pathlib import Path
from typing import Any

from evenhand.assessor import Assessment
from evenhand.paper.settled import settled_toml
from evenhand.recipe import Recipe


def advice_toml(found: Assessment, recipe: Recipe, path: Path) -> bytes:
    """The recipe as a file for `path`: each section with its bars and what is suggested for it.

    A window or a strength that the recipe sets is no question any more: it stays.
    """
    views = found.sections or (found.whole,)
    usual = Recipe()

    def more(index: int) -> dict[str, Any]:
        advice = views[index].advice
        return {
            name: value
            for name, value in (("window", advice.window), ("strength", advice.strength))
            if getattr(found.ground.recipes[index], name) == getattr(usual, name)
        }

    title = f"Suggested by evenhand assess for {found.ground.take.name}"
    return settled_toml(title, path, found.ground, recipe, more)
