"""Running status when events of several channels are merged anew."""

import io

import mido
from tests.build import plain_recipe

from evenhand import Take, tighten
from evenhand.take import vlq


def _file(*events: tuple[int, str]) -> bytes:
    """A type 0 file of (tick, bytes behind the delta time in hex)."""
    body, now = b"", 0
    for tick, text in events:
        body += vlq.encode(tick - now) + bytes.fromhex(text)
        now = tick
    head = b"MThd" + bytes([0, 0, 0, 6, 0, 0, 0, 1, 1, 0xE0])
    return head + b"MTrk" + len(body).to_bytes(4, "big") + body


def _messages(data: bytes) -> list[str]:
    return [str(message.copy(time=0)) for message in mido.MidiFile(file=io.BytesIO(data)).tracks[0]]


def test_status_that_lasted_through_a_meta_event_is_not_lost() -> None:
    # Our reader and mido alike let running status last through a meta event. The kick at 490 goes
    # to 480, past the other channel's note; the snare must not fall to that channel.
    data = _file(
        (485, "90 3C 40"),
        (490, "99 24 64"),
        (500, "FF 06 01 41"),
        (970, "26 64"),
        (1000, "FF 2F 00"),
    )
    recipe = plain_recipe(window=0, strength=100, ghost_below=1)
    after = tighten(Take.from_bytes(data), recipe).take.to_bytes()
    assert sorted(_messages(after)) == sorted(_messages(data))


def test_status_is_spelled_out_only_where_needed() -> None:
    # Nothing is merged anew here, so the bytes behind the delta times stay as they were.
    data = _file(
        (490, "99 24 64"), (500, "FF 06 01 41"), (970, "26 64"), (971, "26 00"), (1000, "FF 2F 00")
    )
    recipe = plain_recipe(window=0, strength=100, ghost_below=1)
    after = tighten(Take.from_bytes(data), recipe).take.to_bytes()
    assert after != data
    # Delta times as they come out: 490→480, 500, 970→960, 971→961, 1000.
    new = _file(
        (480, "99 24 64"), (500, "FF 06 01 41"), (960, "26 64"), (961, "26 00"), (1000, "FF 2F 00")
    )
    assert after == new


def test_status_is_not_newly_made_to_last_through_a_meta_event() -> None:
    # RP-001 ends running status at a meta event. The kick goes from 470 to 480, past the marker.
    data = _file(
        (460, "99 2A 40"), (470, "24 64"), (475, "FF 06 01 41"), (500, "24 00"), (520, "FF 2F 00")
    )
    recipe = plain_recipe(window=0, strength=100, ghost_below=1)
    after = tighten(Take.from_bytes(data), recipe).take.to_bytes()
    assert after == _file(
        (470, "99 2A 40"),
        (475, "FF 06 01 41"),
        (480, "99 24 64"),
        (510, "24 00"),
        (520, "FF 2F 00"),
    )
