"""The live page: its state, what a change does to it, and the server on this computer only."""

from typing import TYPE_CHECKING

from evenhand.review.edges import Edges, ExistsError, KeptPass, SoundFile
from evenhand.review.opening import open_session, places_of
from evenhand.review.serve import serve

if TYPE_CHECKING:
    # As a type only: to import it takes longer than to serve the page.
    from evenhand.review.session import Session as Session

__all__ = ["Edges", "ExistsError", "KeptPass", "SoundFile", "open_session", "places_of", "serve"]
