"""Thousands of damaged takes: an EvenhandError or a clean result, nothing else, ever."""

import random
import tracemalloc
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests import invariants
from tests.build import drum_bytes
from tests.lengths import LONG
from tests.raw import END, KICK, SNARE, chunk, header, track

from evenhand import EvenhandError, Recipe, Take, tighten
from evenhand.take.track import Track

_SEED = 1995

Mutation = Callable[[random.Random, bytearray], None]


def _flip_bits(chance: random.Random, data: bytearray) -> None:
    for _ in range(chance.randint(1, 8)):
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)


def _set_bytes(chance: random.Random, data: bytearray) -> None:
    for _ in range(chance.randint(1, 8)):
        data[chance.randrange(len(data))] = chance.choice([0, 0x7F, 0x80, 0xF0, 0xF7, 0xFF, 0x51])


def _cut_short(chance: random.Random, data: bytearray) -> None:
    del data[chance.randrange(1, len(data)) :]


def _cut_out(chance: random.Random, data: bytearray) -> None:
    begin = chance.randrange(len(data))
    del data[begin : begin + chance.randint(1, 30)]


def _insert(chance: random.Random, data: bytearray) -> None:
    place = chance.randrange(len(data))
    data[place:place] = chance.randbytes(chance.randint(1, 12))


def _insert_event(chance: random.Random, data: bytearray) -> None:
    place = chance.randrange(22, len(data))
    events = ("00 FF 51 03 00 00 01", "00 FF 51 03 FF FF FF", "00 FF 58 04 FF 06 18 08")
    more = ("00 FF 58 04 01 06 18 08", "FF FF FF 7F 99 24 64", "00 F0 02 41 F7", "00 FF 2F 00")
    data[place:place] = bytes.fromhex(chance.choice(events + more))


def _repeat(chance: random.Random, data: bytearray) -> None:
    begin = chance.randrange(len(data))
    data[begin:begin] = data[begin : begin + chance.randint(1, 200)]


def _lie_about_lengths(chance: random.Random, data: bytearray) -> None:
    places = [at for at in range(len(data) - 8) if data[at : at + 2] == b"MT"]
    at = chance.choice(places or [0])
    lies = [0, 1, 5, 7, len(data), 0x7FFFFFFF, 0xFFFFFFFF, chance.randrange(len(data))]
    data[at + 4 : at + 8] = chance.choice(lies).to_bytes(4, "big")


def _lie_in_the_header(chance: random.Random, data: bytearray) -> None:
    at = chance.choice([8, 10, 12])
    value = chance.choice([0, 1, 2, 3, 24, 0x7FFF, 0x8000, 0xE728, 0xFFFF])
    data[at : at + 2] = value.to_bytes(2, "big")


def _swap_pieces(chance: random.Random, data: bytearray) -> None:
    size = chance.randint(1, max(1, len(data) // 4))
    one, other = (chance.randrange(max(1, len(data) - size)) for _ in range(2))
    piece, another = data[one : one + size], data[other : other + size]
    data[one : one + len(another)] = another
    data[other : other + len(piece)] = piece


def _swap_chunks(chance: random.Random, data: bytearray) -> None:
    head, *chunks = bytes(data).split(b"MTrk")
    chance.shuffle(chunks)
    data[:] = b"MTrk".join([head, *chunks])


_MUTATIONS: tuple[Mutation, ...] = (
    _flip_bits,
    _set_bytes,
    _cut_short,
    _cut_out,
    _insert,
    _insert_event,
    _repeat,
    _lie_about_lengths,
    _lie_in_the_header,
    _swap_pieces,
    _swap_chunks,
)


def _generated() -> list[bytes]:
    notes = [(line * 120 + line % 7 * 5, 42 if line % 4 else 36) for line in range(64)]
    metas = f"00 FF 51 03 07 A1 20 87 40 FF 58 04 07 03 18 08 87 40 FF 51 03 06 1A 80 {END}"
    return [
        drum_bytes(notes),
        drum_bytes([*notes, (3, 38, 20), (1922, 38, 90)], bpm=93, meter=(7, 8), division=96),
        header(tracks=2) + track(metas) + chunk(b"XTRA", b"??") + track(KICK + SNARE * 30 + END),
        header(kind=0) + track(f"00 F0 03 41 10 F7 05 90 3C 40 {KICK} 20 90 3C 00 {SNARE} {END}"),
    ]


def _mutants(chance: random.Random, bases: list[bytes], count: int) -> Iterator[bytes]:
    for number in range(count):
        data = bytearray(bases[number % len(bases)])
        for _ in range(chance.choice([1, 1, 1, 2, 4])):
            if len(data) > 22:
                chance.choice(_MUTATIONS)(chance, data)
        yield bytes(data)


def _try(data: bytes, recipe: Recipe) -> str:
    """How far a damaged file gets; whatever comes out must be sound."""
    try:
        take = Take.from_bytes(data)
    except EvenhandError as error:
        return _refused("refused", error)
    assert take.to_bytes() == data
    for one in take.smf.tracks:
        # Each event takes two bytes at the least, so the columns are bounded by the file.
        assert 2 * len(one) <= len(one.data) <= len(data)
    assert sum(8 + len(_bytes(part)) for part in take.smf.parts) <= len(data)
    try:
        result = tighten(take, recipe)
    except EvenhandError as error:
        return _refused("read, then refused", error)
    after = result.take.to_bytes()
    # Delta times and spelled-out status bytes are all that can grow: five bytes for each event.
    assert len(after) <= len(data) + 5 * sum(len(one) for one in take.smf.tracks)
    assert Take.from_bytes(after).to_bytes() == after
    assert len(result.flags) + len(result.figures.pieces) > 0
    invariants.bytes_are_kept(result)
    return "tightened"


def _refused(how: str, error: EvenhandError) -> str:
    assert str(error).isprintable()
    return how


def _bytes(part: Track | bytes) -> bytes:
    return part.data if isinstance(part, Track) else part[8:]


def _run(bases: list[bytes], count: int) -> dict[str, int]:
    chance = random.Random(_SEED)
    recipes = (
        Recipe(),
        Recipe(window=0, strength=100, reach=50),
        Recipe(latency=11.5, hold=("1:1-1:2",), grid="1/8T"),
    )
    fates: dict[str, int] = {}
    for number, data in enumerate(_mutants(chance, bases, count)):
        try:
            fate = _try(data, recipes[number % len(recipes)])
        except Exception as error:
            error.add_note(f"case {number} of seed {_SEED}: {len(data)} bytes")
            raise
        fates[fate] = fates.get(fate, 0) + 1
    return fates


def test_damaged_generated_takes() -> None:
    fates = _run(_generated(), 1500 if LONG else 500)
    # The mutations reach every depth, or this test would say little.
    assert min(fates[fate] for fate in ("refused", "read, then refused", "tightened")) > 3


def test_damaged_real_takes(takes: list[Path]) -> None:
    short = sorted(takes, key=lambda path: path.stat().st_size)[:30]
    count = 1200 if LONG else 400
    fates = _run([path.read_bytes() for path in short], count)
    assert min(fates["refused"], fates["tightened"]) > count / 8


@pytest.mark.parametrize(
    "data",
    [
        header(tracks=65535) + track(KICK + END),
        header() + track(KICK + END, 0xFFFFFFFF),
        header() + track(f"00 FF 01 FF FF FF 7F {KICK} {END}"),
        # A bar of one 64th and an hour-long pause: millions of bars, none of which may be listed.
        header(division=1) + track(f"00 FF 58 04 01 06 18 08 FF FF FF 7F 99 24 64 {KICK} {END}"),
        header(division=32767) + track(f"FF FF FF 7F 99 24 64 FF FF FF 70 99 24 64 {END}"),
        header() + track("80 " * 100_000),
        header() + chunk(b"Zero", b"") * 10_000 + track(KICK + END),
    ],
)
def test_memory_is_bounded_by_the_file(data: bytes) -> None:
    tracemalloc.start()
    try:
        _try(data, Recipe())
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    # A few columns of eight bytes per byte of the file, and a fixed sum for everything else.
    assert peak < 300 * len(data) + 2_000_000
