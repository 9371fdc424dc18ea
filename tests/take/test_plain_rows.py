"""Tracks are read in rows of plain events: the same as event by event."""

import random

import numpy as np
import pytest

from evenhand.errors import MidiFileError
from evenhand.take import plain_rows
from evenhand.take.track import parse

_END = b"\0\xff\x2f\0"


def _delta(value: int) -> bytes:
    """By the rule of the standard (RP-001): seven bits a byte, all but the last with a high bit."""
    places = [value & 0x7F]
    while value := value >> 7:
        places.append(value & 0x7F | 0x80)
    return bytes(reversed(places))


@pytest.mark.parametrize("seed", range(60))
def test_events_come_back_as_they_were_written(seed: int) -> None:
    chance = random.Random(seed)
    data, events, tick, running = b"", [], 0, 0
    for _ in range(chance.randrange(1, 40)):
        step = chance.choice((0, 5, 127, 128, 5000, 20_000, 3_000_000))
        tick += step
        status = chance.choice((0x90, 0x90, 0x99, 0x80, 0xB3, 0xE0, 0xC1, 0xD0, 0xFF, 0xF0))
        one, other = chance.randrange(128), chance.randrange(128)
        data += _delta(step)
        if status == 0xFF:
            data += bytes((0xFF, 0x01, 2, 0xC8, 0x90))
            events.append((tick, status, 1, 0))
        elif status == 0xF0:
            data += bytes((0xF0, 2, one, 0xF7))
            events.append((tick, status, 0, 0))
            running = 0
        else:
            single = status in (0xC1, 0xD0)
            short = status == running and chance.random() < 0.7
            data += (b"" if short else bytes([status])) + bytes([one] if single else [one, other])
            events.append((tick, status, one, 0 if single else other))
            running = status
    track = parse(data + _END)
    found = zip(track.tick, track.status, track.data1, track.data2, strict=True)
    assert [tuple(map(int, event)) for event in found] == [*events, (tick, 0xFF, 0x2F, 0)]
    assert track.start[-1] == len(data + _END)
    # What is rebuilt at the same places is made of the same bytes.
    assert track.rebuilt(track.tick, np.arange(len(track))).data == data + _END


@pytest.mark.parametrize("block", [1, 7, 64, 1000])
def test_rows_go_on_from_block_to_block(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    chance = random.Random(block)
    data = b"\0\x99\x24\x64"
    for _ in range(400):
        status = b"" if chance.random() < 0.5 else b"\x99"
        data += _delta(chance.choice((0, 100, 5000, 3_000_000))) + status + b"\x24\x64"
    whole = parse(data + _END)
    monkeypatch.setattr(plain_rows, "_BLOCK", block)
    again = parse(data + _END)
    assert len(whole) == 402
    for name in ("tick", "status", "data1", "data2", "start", "body"):
        assert np.array_equal(getattr(again, name), getattr(whole, name)), name


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"\0\x90\x24\x40\0\x24\xc0", "byte 5: a data byte is above 127"),
        (b"\0\x90\x24\x40\0\x24", "byte 4: the track ends in the middle of an event"),
        (b"\0\x90\x24\x40\x80\x80\x80\x80\0\x24\x40", "byte 4: a delta time is longer than four"),
        (b"\0\x90\x24\x40\0\xf0\x01\xf7\0\x24\x40", "byte 9: a data byte where a status byte"),
    ],
)
def test_what_breaks_a_row_is_named_by_its_byte(data: bytes, told: str) -> None:
    with pytest.raises(MidiFileError, match=told):
        parse(data)
