"""The page of a take from the take itself: for those who make many."""

from evenhand.listen.data import Names, empty_page_data, page_data
from evenhand.listen.page_file import build_page
from evenhand.listen.pair import compare
from evenhand.recipe import Recipe
from evenhand.take import Take
from evenhand.tightener import tighten

#: What a listening page has at its beginning, and other pages have not.
MARK = '<meta name="generator" content="evenhand listen">'


def listening_page(take: Take, recipe: Recipe, name: str) -> bytes:
    """Make the listening page of a take.

    Parameters
    ----------
    take : Take
    recipe : Recipe
    name : str
        Its file, for the command that the page shows.

    Raises
    ------
    EvenhandError
        If the recipe does not fit the take, or it is too long to be listened to.
    """
    if not any(track.note_ons().any() for track in take.smf.tracks):
        return build_page(empty_page_data(take, name))
    kit = recipe.kit if recipe.kit.endswith(".toml") else ""
    return build_page(page_data(compare(tighten(take, recipe)), Names(name, "", kit)))
