"""What is told of the song that a take lies on."""

from dataclasses import asdict
from typing import Any

from evenhand.recipe import Recipe
from evenhand.song import Misfit


def song_json(recipe: Recipe, misfit: Misfit | None) -> dict[str, Any]:
    """Whether the take lies on its song, and what would help; nothing without a song."""
    if recipe.song is None:
        return {}
    told = {**asdict(misfit), "text": misfit.text} if misfit else None
    return {"song": {"fits": misfit is None, "misfit": told}}
