"""What a song knows that a take doesn't: its tempo map, its markers, its other parts."""

from evenhand.song.misfit import Misfit, find_misfit
from evenhand.song.song import Song, as_song, read_song, start_in

__all__ = ["Misfit", "Song", "as_song", "find_misfit", "read_song", "start_in"]
