"""The advice of an assessment as a recipe to begin with."""

from evenhand.assessor import Assessment
from evenhand.paper.grid_words import grid_name
from evenhand.paper.page import printable
from evenhand.recipe import Recipe, recipe_toml


def advised_recipe(found: Assessment, recipe: Recipe) -> Recipe:
    """The settings that are suggested for the whole take.

    Sections that want different grids get them through the grid `auto`, which finds them again.
    """
    advice = found.whole.advice
    grids = {view.grid for view in found.sections or (found.whole,)}
    same = len(grids) == 1 and None not in grids
    return recipe.with_settings(
        {
            "grid": advice.grid if same else "auto",
            "swing": advice.swing if same else 50.0,
            "window": advice.window,
            "strength": advice.strength,
        }
    )


def advice_toml(found: Assessment, recipe: Recipe) -> str:
    """The recipe as TOML, with what is suggested for each section in comments."""
    lines = [f"# Suggested by evenhand assess for {printable(found.ground.take.name)}"]
    for view in found.sections:
        advice = view.advice
        lines.append(
            f"# {printable(view.label)} (bars {view.first_bar}-{view.last_bar}): "
            f"grid {grid_name(view.grid)}, window {advice.window:g} ms, "
            f"strength {advice.strength:g} %"
        )
    return "\n".join([*lines, "", recipe_toml(advised_recipe(found, recipe))])
