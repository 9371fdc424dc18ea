"""The hits of a take, picked from all of its tracks."""

import mido
import numpy as np
from tests.build import midi_bytes, track

from evenhand.take import read_take
from evenhand.take.track import joined


def on(note: int, velocity: int = 90, channel: int = 9) -> mido.Message:
    return mido.Message("note_on", note=note, velocity=velocity, channel=channel)


def test_hits_say_in_which_track_and_event_they_are_also_between_empty_tracks() -> None:
    # A bass note, a release written as velocity 0, and tracks with nothing but their end.
    first = track([(0, on(36)), (0, on(40, channel=0)), (120, on(36, velocity=0)), (240, on(38))])
    later = track([(480, on(42, velocity=1))])
    take = read_take(midi_bytes(track([]), first, track([]), track([]), later))
    hits = take.struck(None)
    assert hits.track.tolist() == [1, 1, 4]
    assert hits.event.tolist() == [0, 3, 0]
    assert hits.tick.tolist() == [0, 240, 480]
    assert hits.note.tolist() == [36, 38, 42]
    assert hits.velocity.tolist() == [90, 90, 1]
    for column in ("tick", "status", "data1", "data2"):
        whole = joined(take.smf.tracks, column)
        parts = [getattr(one, column) for one in take.smf.tracks]
        assert np.array_equal(whole, np.concatenate(parts))


def test_no_track_has_no_events() -> None:
    assert len(joined((), "tick")) == 0
