"""Bytes to events and back without loss: Standard MIDI Files, tempo, meter, hits as columns."""

from evenhand.take.exchange import channel_events, exchange, owners
from evenhand.take.files import check_outputs, folded, make_folder, name_for_library, write_files
from evenhand.take.folder import check_folder, new_folder
from evenhand.take.given import need_take, read_take
from evenhand.take.hits import Hits, in_roles
from evenhand.take.lay import lay
from evenhand.take.locks import TURN, is_still, try_lock
from evenhand.take.meter import Bars, MeterMap, Position, parse_position
from evenhand.take.reading import (
    LARGEST_MB,
    open_plain,
    read_bytes,
    read_stdin,
    read_toml,
    reading_up_to,
    why,
)
from evenhand.take.regrid import BarsAndBeats, regrid
from evenhand.take.song import Song, as_song, read_song, start_in
from evenhand.take.take import Take
from evenhand.take.tempo import TempoMap
from evenhand.take.timeline import Timeline
from evenhand.take.track import MARKER, Track

__all__ = [
    "LARGEST_MB",
    "MARKER",
    "TURN",
    "Bars",
    "BarsAndBeats",
    "Hits",
    "MeterMap",
    "Position",
    "Song",
    "Take",
    "TempoMap",
    "Timeline",
    "Track",
    "as_song",
    "channel_events",
    "check_folder",
    "check_outputs",
    "exchange",
    "folded",
    "in_roles",
    "is_still",
    "lay",
    "make_folder",
    "name_for_library",
    "need_take",
    "new_folder",
    "open_plain",
    "owners",
    "parse_position",
    "read_bytes",
    "read_song",
    "read_stdin",
    "read_take",
    "read_toml",
    "reading_up_to",
    "regrid",
    "start_in",
    "try_lock",
    "why",
    "write_files",
]
