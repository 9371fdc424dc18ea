"""The recipe: the settings of a pass, their checks, and their TOML."""

from evenhand.recipe.checks import OF_A_SECTION
from evenhand.recipe.modes import AS_PLAYED, AUTO, MOVE, OFF, ON, SPAN_COST, SPANS, STAY, TIGHT
from evenhand.recipe.settings import Recipe
from evenhand.recipe.toml import read_recipe, recipe_toml

__all__ = [
    "AS_PLAYED",
    "AUTO",
    "MOVE",
    "OFF",
    "OF_A_SECTION",
    "ON",
    "SPANS",
    "SPAN_COST",
    "STAY",
    "TIGHT",
    "Recipe",
    "read_recipe",
    "recipe_toml",
]
