"""The recipe: the settings of a pass, their checks, and their TOML."""

from evenhand.recipe.checks import AUTO, OF_A_SECTION, OFF, ON
from evenhand.recipe.settings import Recipe
from evenhand.recipe.toml import read_recipe, recipe_toml

__all__ = ["AUTO", "OFF", "OF_A_SECTION", "ON", "Recipe", "read_recipe", "recipe_toml"]
