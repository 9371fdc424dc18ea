"""The recipe: the settings of a pass, their checks, and their TOML."""

from evenhand.recipe.file_names import BESIDE, named_files, seen_from, split_part, with_files
from evenhand.recipe.given_nudges import Nudge
from evenhand.recipe.modes import (
    AS_PLAYED,
    AUTO,
    LIMBS,
    LOOSE,
    MOVE,
    OFF,
    ON,
    SPAN_COST,
    SPANS,
    STAY,
    TIGHT,
)
from evenhand.recipe.places import Hold
from evenhand.recipe.reference import page_fields, settings_table
from evenhand.recipe.setting import (
    GROUPS,
    KIT,
    MOVES,
    NONE,
    OUTPUT,
    PULSE,
    RECORD,
    SECTIONS,
    USUAL,
    Setting,
)
from evenhand.recipe.settings import Recipe, need_recipe
from evenhand.recipe.table import OF_A_SECTION, SETTINGS, TABLES
from evenhand.recipe.toml import read_recipe, recipe_toml

__all__ = [
    "AS_PLAYED",
    "AUTO",
    "BESIDE",
    "GROUPS",
    "KIT",
    "LIMBS",
    "LOOSE",
    "MOVE",
    "MOVES",
    "NONE",
    "OFF",
    "OF_A_SECTION",
    "ON",
    "OUTPUT",
    "PULSE",
    "RECORD",
    "SECTIONS",
    "SETTINGS",
    "SPANS",
    "SPAN_COST",
    "STAY",
    "TABLES",
    "TIGHT",
    "USUAL",
    "Hold",
    "Nudge",
    "Recipe",
    "Setting",
    "named_files",
    "need_recipe",
    "page_fields",
    "read_recipe",
    "recipe_toml",
    "seen_from",
    "settings_table",
    "split_part",
    "with_files",
]
