"""Events of one channel exchanged for others, and whose each of them is: bytes by hand."""

from tests.raw import END, chunk, header, track

from evenhand import Take
from evenhand.take.exchange import channel_events, exchange, owners

# Channel 10: a kick (36) whose release uses running status, a choke of the crash; channel 1: a C.
_OTHER = track("00 90 3C 40 60 80 3C 00 00 99 31 50 " + END)
_DRUMS = track("00 99 24 64 1E 24 00 0A 99 31 50 05 A9 31 40 0A 89 31 40 00 99 24 30 " + END)
_TAKE = Take.from_bytes(header(tracks=2) + _OTHER + chunk(b"XTRA", b"??") + _DRUMS)


def test_events_of_a_channel_have_their_status_spelled_out() -> None:
    found = [(tick, data.hex(" ")) for tick, data in channel_events(_TAKE, 9)]
    assert found == [
        *[(96, "99 31 50")],
        *[(0, "99 24 64"), (30, "99 24 00"), (40, "99 31 50"), (45, "a9 31 40")],
        *[(55, "89 31 40"), (55, "99 24 30")],
    ]
    assert channel_events(_TAKE, 0) == [(0, b"\x90\x3c\x40"), (96, b"\x80\x3c\x00")]
    assert channel_events(_TAKE, 3) == []


def test_others_take_their_place_in_the_track_with_most_notes() -> None:
    events = [(20, b"\x99\x26\x50"), (10, b"\x99\x24\x40"), (20, b"\x89\x26\x00")]
    made = exchange(_TAKE, 9, events)
    again = Take.from_bytes(made.to_bytes())
    assert channel_events(again, 9) == [events[1], events[0], events[2]]
    assert channel_events(again, 0) == channel_events(_TAKE, 0)
    assert [len(one) for one in again.smf.tracks] == [3, 4]
    assert chunk(b"XTRA", b"??") in made.to_bytes()


def test_a_release_is_of_the_earliest_hit_that_sounds_and_a_choke_of_the_latest() -> None:
    rows = [
        (0, bytes.fromhex("99 31 50")),  # hit 0
        (10, bytes.fromhex("99 31 51")),  # hit 1
        (12, bytes.fromhex("A9 31 40")),  # choke: of hit 1
        (20, bytes.fromhex("89 31 00")),  # release: of hit 0
        (21, bytes.fromhex("99 31 00")),  # release, said the other way: of hit 1
        (30, bytes.fromhex("89 31 00")),  # one too many: the latest
        (31, bytes.fromhex("89 26 00")),  # of a note that was never struck
        (32, bytes.fromhex("A9 26 40")),
        (33, bytes.fromhex("B9 04 40")),  # the pedal is nobody's
    ]
    assert owners(rows).tolist() == [0, 1, 1, 0, 1, 1, -1, -1, -1]
    # Numbers go by the order in the file, ownership by time.
    assert owners([rows[3], rows[0]]).tolist() == [0, 0]
