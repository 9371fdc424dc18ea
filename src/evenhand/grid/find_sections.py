"""Where the sections of a take begin: from its markers, or from what is played."""

from evenhand.columns import Floats
from evenhand.grid.sections import NONE, Sections, one_section
from evenhand.take.hits import Hits
from evenhand.take.take import Take


def find_sections(take: Take, tick: Floats, hits: Hits, source: str) -> Sections:
    """Find the sections of a take.

    Parameters
    ----------
    take : Take
    tick : float64 array, shape (hits,)
        When each hit sounds.
    hits : Hits
        With pieces named.
    source : str
        One of `SECTION_SOURCES`.
    """
    del take, tick, hits
    if source == NONE:
        return one_section()
    return one_section()
