"""Whether a take lies on its song."""

from evenhand.song.misfit import Misfit, find_misfit

__all__ = ["Misfit", "find_misfit"]
