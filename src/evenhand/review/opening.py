"""Opening a review: from the take, and from what was decided the last time."""

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from evenhand.recipe import Recipe
from evenhand.review.edges import DecisionFiles, Edges
from evenhand.review.heard import read_marks
from evenhand.review.state import State, Undoable
from evenhand.take import Take

if TYPE_CHECKING:
    from evenhand.review.session import Session


def places_of(take: Path) -> DecisionFiles:
    """Where the decisions about a take are written: beside it."""
    return DecisionFiles(
        take.with_name(f"{take.stem}.recipe.toml"), take.with_name(f"{take.stem}.heard.toml")
    )


def open_session(take: Take, path: Path, recipe: Recipe, edges: Edges) -> "Session":
    """Open the review of a take.

    Parameters
    ----------
    take : Take
    path : Path
        Its file.
    recipe : Recipe
        To go on from: that of the last time, or a fresh one.
    edges : Edges

    Raises
    ------
    EvenhandError
        If the take has no drums, or does not fit the recipe.
    """
    # All that works takes out comes with it, and takes a while.
    from evenhand.review.session import Session

    places = places_of(path)
    marks = read_marks(places.marks, hashlib.sha256(take.to_bytes()).hexdigest())
    history = Undoable(State(recipe, marks))
    return Session(take, str(path), history, places, edges)
