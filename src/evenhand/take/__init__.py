"""Bytes to events and back without loss: Standard MIDI Files, tempo, meter, hits as columns."""

from evenhand.take.exchange import channel_events, exchange
from evenhand.take.files import check_outputs, make_folder, read_bytes, read_stdin, why, write_files
from evenhand.take.folder import check_folder, new_folder
from evenhand.take.hits import Hits
from evenhand.take.lay import lay
from evenhand.take.meter import MeterMap, Position, parse_position
from evenhand.take.regrid import Score, regrid
from evenhand.take.song import Song, as_song, read_song, start_in
from evenhand.take.take import Take, read_take
from evenhand.take.tempo import TempoMap
from evenhand.take.timeline import Timeline

__all__ = [
    "Hits",
    "MeterMap",
    "Position",
    "Score",
    "Song",
    "Take",
    "TempoMap",
    "Timeline",
    "as_song",
    "channel_events",
    "check_folder",
    "check_outputs",
    "exchange",
    "lay",
    "make_folder",
    "new_folder",
    "parse_position",
    "read_bytes",
    "read_song",
    "read_stdin",
    "read_take",
    "regrid",
    "start_in",
    "why",
    "write_files",
]
