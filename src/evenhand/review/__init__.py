"""The live page: its state, what a change does to it, and the server on this computer only."""

from evenhand.review.serve import serve
from evenhand.review.session import Edges, ExistsError, Kept, Session, Sound
from evenhand.review.start import open_session, places_of

__all__ = ["Edges", "ExistsError", "Kept", "Session", "Sound", "open_session", "places_of", "serve"]
