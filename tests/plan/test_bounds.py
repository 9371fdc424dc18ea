"""A plan takes time and memory by the hits, however dense or far apart they are."""

import struct
import time
import tracemalloc

import numpy as np
import pytest
from tests.build import drum_bytes

from evenhand import Recipe, Take, tighten


def _dense(hits: int) -> bytes:
    """Hits of three bytes each on every thirty-second, all late by about as much."""
    late = np.random.default_rng(3).normal(22, 4, hits).astype(int)
    deltas = np.diff(np.sort(60 * np.arange(hits) + late), prepend=0).clip(0, 127).tolist()
    body = bytearray(b"\x00\x99\x24\x64")
    for number, delta in enumerate(deltas):
        body += bytes([delta, 36 + 2 * (number % 2), 100])
    body += b"\x00\xff\x2f\x00"
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480)
    return head + b"MTrk" + struct.pack(">I", len(body)) + bytes(body)


def _seconds(take: Take, recipe: Recipe) -> list[float]:
    """Of processor time for tightening, up to three times: the first below a second is enough."""
    spent: list[float] = []
    while len(spent) < 3 and min(spent, default=1.0) >= 1:
        begin = time.process_time()
        tighten(take, recipe)
        spent.append(time.process_time() - begin)
    return spent


@pytest.mark.parametrize(
    ("hits", "recipe"),
    [
        (33_000, Recipe()),
        # Any number of strokes could move as one, and there is no pulse but the strokes' own.
        (16_000, Recipe(plan="spans", grid="1/32", latency="auto", lean_follow=2)),
    ],
)
def test_a_file_of_up_to_100_kb_takes_less_than_a_second(hits: int, recipe: Recipe) -> None:
    data = _dense(hits)
    assert len(data) < 100_000
    take = Take.from_bytes(data, "dense")
    spent = _seconds(take, recipe)
    assert min(spent) < 1, spent


def test_bars_of_rest_take_no_memory() -> None:
    # A dozen bars of rest between any two hits: the bars with nothing in them are the most.
    chance = np.random.default_rng(4)
    ticks = np.sort(chance.integers(0, 14_000 * 25_000, 14_000)).tolist()
    data = drum_bytes([(tick, (36, 38, 42, 49)[tick % 4]) for tick in ticks])
    take = Take.from_bytes(data, "sparse")
    tighten(take, Recipe(grid="1/8T"))
    tracemalloc.start()
    try:
        tighten(take, Recipe(grid="1/8T"))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    # Tables of all bars and beats were 47 MB; the take itself and its plan are half of that.
    assert peak < 35e6


def test_bars_shorter_than_a_hit_take_no_memory() -> None:
    # Bars of 1/64, five hundred of them between any two hits.
    meter = bytes((0, 0xFF, 0x58, 4, 1, 6, 24, 8))
    hit = b"\xfd\x00\x99\x24\x64"
    body = meter + hit * 9000 + b"\x00\xff\x2f\x00"
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480)
    data = head + b"MTrk" + struct.pack(">I", len(body)) + body
    take = Take.from_bytes(data, "short bars")
    assert len(take.hits()) == 9000
    tighten(take)
    tracemalloc.start()
    try:
        tighten(take)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 60 * len(data) + 60e6


def test_thousands_of_markers_take_less_than_a_second() -> None:
    # A marker and a hit every fifth of a beat, with a hundred names that come again and again.
    body = b"".join(
        b"\x64\xff\x06\x02%02d\x05\x99\x24\x64" % (number % 100) for number in range(9000)
    )
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480)
    body += b"\x00\xff\x2f\x00"
    data = head + b"MTrk" + struct.pack(">I", len(body)) + body
    assert len(data) < 100_000
    take = Take.from_bytes(data, "markers")
    spent = _seconds(take, Recipe())
    assert min(spent) < 1, spent
