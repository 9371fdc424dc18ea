"""Damage to MIDI files: to their bytes, and to their chunks, deltas, lengths, statuses, metas."""

import random
from collections.abc import Callable

from tests.attack.loose import Chunk, Event, Loose, come_loose, quantity, value_of

ByteMutation = Callable[[random.Random, bytearray], None]
Mutation = Callable[[random.Random, Loose], None]

#: No file of an attack grows beyond this, bytes: what the limit of time is stated for.
LARGEST = 100_000


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


#: What is done to bytes, without a look at what they mean.
BYTE_MUTATIONS: tuple[ByteMutation, ...] = (
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


def damaged(chance: random.Random, base: bytes) -> bytes:
    """The bytes of a file, damaged in one to four ways."""
    data = bytearray(base)
    for _ in range(chance.choice([1, 1, 1, 2, 4])):
        if len(data) > 22:
            chance.choice(BYTE_MUTATIONS)(chance, data)
    return bytes(data)


# Chunks.


def _chunk_drop(chance: random.Random, file: Loose) -> None:
    del file.chunks[chance.randrange(len(file.chunks))]
    file.tracks -= chance.randint(0, 1)


def _chunk_double(chance: random.Random, file: Loose) -> None:
    one = chance.choice(file.chunks)
    copy = Chunk(one.tag, list(one.events), one.raw, one.length)
    file.chunks.insert(chance.randrange(len(file.chunks) + 1), copy)
    file.tracks += chance.randint(0, 1)


def _chunk_shuffle(chance: random.Random, file: Loose) -> None:
    chance.shuffle(file.chunks)


def _chunk_unknown(chance: random.Random, file: Loose) -> None:
    tag = chance.choice([b"XTRA", b"MTrk", b"MThd", b"\0\0\0\0", b"    ", b"mtrk"])
    raw = chance.randbytes(chance.choice([0, 1, 7, 400]))
    file.chunks.insert(chance.randrange(len(file.chunks) + 1), Chunk(tag, raw=raw))


def _chunk_rename(chance: random.Random, file: Loose) -> None:
    chance.choice(file.chunks).tag = chance.choice([b"MTrc", b"\xff\xff\xff\xff", b"MTrk"])


def _chunk_length(chance: random.Random, file: Loose) -> None:
    one = chance.choice(file.chunks)
    size = len(one.to_bytes()) - 8
    lies = [0, 1, size - 1, size + 1, size + 8, 2 * size, 0x7FFFFFFF, 0xFFFFFFFF]
    one.length = chance.choice(lies)


def _chunk_empty(chance: random.Random, file: Loose) -> None:
    one = chance.choice(file.chunks)
    one.events, one.raw = [], b""


def _chunk_many(chance: random.Random, file: Loose) -> None:
    end = chance.choice([b"", b"\0\xff\x2f\0"])
    count = min(chance.choice([10, 300, 5000, 65535 - len(file.chunks)]), LARGEST // (8 + len(end)))
    file.chunks += [Chunk(b"MTrk", raw=end)] * count
    file.tracks += count
    file.kind = 1


def _chunk_split(chance: random.Random, file: Loose) -> None:
    """The hits of a track on many tracks."""
    one = chance.choice(file.chunks)
    parts = chance.choice([2, 7, 40])
    file.chunks += [Chunk(b"MTrk", one.events[part::parts]) for part in range(parts)]
    file.tracks, file.kind = file.tracks + parts, 1


def _header(chance: random.Random, file: Loose) -> None:
    name = chance.choice(["kind", "tracks", "division"])
    values = [0, 1, 2, 3, 24, 480, 32767, 0x8000, 0xE728, 0xFFFF]
    setattr(file, name, chance.choice(values))


def _division(chance: random.Random, file: Loose) -> None:
    file.division = chance.choice([1, 2, 3, 24, 25, 96, 960, 9600, 32767])


# Deltas.


def _some(chance: random.Random, file: Loose) -> list[Event]:
    """A run of events, or single ones here and there."""
    places = file.events()
    if not places:
        return []
    if chance.random() < 0.5:
        begin = chance.randrange(len(places))
        chosen = places[begin : begin + chance.choice([1, 3, 30, 1000])]
    else:
        chosen = [chance.choice(places) for _ in range(chance.choice([1, 4, 20]))]
    return [chunk.events[index] for chunk, index in chosen]


def _delta_zero(chance: random.Random, file: Loose) -> None:
    for event in _some(chance, file):
        event.delta = b"\0"


def _delta_huge(chance: random.Random, file: Loose) -> None:
    value = chance.choice([0x0FFFFFFF, 0x0FFFFF00, 0x00FFFFFF, 1_000_000, 100_000])
    for event in _some(chance, file)[: chance.choice([1, 2, 40])]:
        event.delta = quantity(value)


def _delta_padded(chance: random.Random, file: Loose) -> None:
    length = chance.choice([2, 3, 4, 4, 5, 9])
    for event in _some(chance, file):
        event.delta = quantity(value_of(event.delta), length)


def _delta_scaled(chance: random.Random, file: Loose) -> None:
    by = chance.choice([0.1, 0.5, 1.03, 2, 10, 50])
    for event in _some(chance, file):
        event.delta = quantity(min(round(value_of(event.delta) * by), 0x0FFFFFFF))


def _delta_random(chance: random.Random, file: Loose) -> None:
    most = chance.choice([1, 40, 500, 5000])
    for event in _some(chance, file):
        event.delta = quantity(chance.randint(0, most))


# Lengths.


def _long_events(file: Loose) -> list[Event]:
    events = [chunk.events[index] for chunk, index in file.events()]
    return [event for event in events if event.body[:1] in (b"\xf0", b"\xf7", b"\xff")]


def _length_lie(chance: random.Random, file: Loose) -> None:
    events = _long_events(file)
    if events:
        event = chance.choice(events)
        at = 2 if event.body[0] == 0xFF else 1
        lies = [b"\0", b"\1", b"\x7f", b"\x81\0", b"\xff\xff\xff\x7f", b"\xff\xff\xff\xff\x7f"]
        event.body = event.body[:at] + chance.choice(lies) + event.body[at + 1 :]


def _length_padded(chance: random.Random, file: Loose) -> None:
    events = _long_events(file)
    if events:
        event = chance.choice(events)
        at = 2 if event.body[0] == 0xFF else 1
        if len(event.body) > at:
            padded = quantity(event.body[at] & 0x7F, chance.choice([2, 3, 4, 5]))
            event.body = event.body[:at] + padded + event.body[at + 1 :]


def _body_cut(chance: random.Random, file: Loose) -> None:
    for event in _some(chance, file)[: chance.choice([1, 1, 5])]:
        event.body = event.body[: chance.randrange(len(event.body) + 1)]


# Statuses.


def _status_other(chance: random.Random, file: Loose) -> None:
    upper = chance.choice([0x80, 0x90, 0xA0, 0xB0, 0xC0, 0xD0, 0xE0, 0xF0])
    for event in _some(chance, file):
        if event.body and event.body[0] & 0x80:
            event.body = bytes([upper | event.body[0] & 0x0F]) + event.body[1:]


def _status_channel(chance: random.Random, file: Loose) -> None:
    channel = chance.choice([0, 8, 9, 9, 10, 15])
    for event in _some(chance, file):
        if event.body and 0x80 <= event.body[0] < 0xF0:
            event.body = bytes([event.body[0] & 0xF0 | channel]) + event.body[1:]


def _status_running(chance: random.Random, file: Loose) -> None:
    """Leave status bytes out, rightly or wrongly."""
    for event in _some(chance, file):
        if event.body and 0x80 <= event.body[0] < 0xF0:
            event.body = event.body[1:]


def _status_system(chance: random.Random, file: Loose) -> None:
    bodies = [bytes([one]) for one in range(0xF1, 0xFF)]
    bodies += [b"\xf0\x03\x41\x10\xf7", b"\xf0\x02\x41\x10", b"\xf7\x02\x11\xf7", b"\xf7\0"]
    bodies += [b"\xf7\x03\xf3\x01\xf8"]
    _put_in(chance, file, [chance.choice(bodies) for _ in range(chance.choice([1, 2, 5]))])


def _data_above(chance: random.Random, file: Loose) -> None:
    for event in _some(chance, file)[:3]:
        if len(event.body) > 1:
            event.body = event.body[:-1] + bytes([event.body[-1] | 0x80])


def _note_other(chance: random.Random, file: Loose) -> None:
    note = chance.choice([0, 3, 35, 36, 37, 38, 40, 42, 44, 46, 49, 51, 127])
    for event in _some(chance, file):
        if len(event.body) == 3 and event.body[0] & 0xE0 == 0x80:
            event.body = bytes([event.body[0], note, event.body[2]])


def _velocity(chance: random.Random, file: Loose) -> None:
    velocity = chance.choice([0, 1, 20, 39, 40, 127])
    for event in _some(chance, file):
        if len(event.body) == 3 and event.body[0] & 0xF0 == 0x90:
            event.body = event.body[:2] + bytes([velocity])


# Metas.


def _put_in(chance: random.Random, file: Loose, bodies: list[bytes]) -> None:
    chunk = chance.choice(file.chunks)
    for body in bodies:
        delta = quantity(chance.choice([0, 0, 1, 120, 480, 1920, 100_000]))
        chunk.events.insert(chance.randrange(len(chunk.events) + 1), Event(delta, body))


def _meta(kind: int, payload: bytes) -> bytes:
    return bytes([0xFF, kind]) + quantity(len(payload)) + payload


def _meta_tempo(chance: random.Random, file: Loose) -> None:
    tempi = [0, 1, 2, 1000, 20_000, 249_999, 500_000, 1_000_003, 0xFFFFFF]
    payloads = [chance.choice(tempi).to_bytes(3, "big") for _ in range(chance.choice([1, 2, 60]))]
    if chance.random() < 0.1:
        payloads.append(chance.choice([b"", b"\7", b"\7\xa1", b"\7\xa1\x20\0\0"]))
    _put_in(chance, file, [_meta(0x51, payload) for payload in payloads])


def _meta_meter(chance: random.Random, file: Loose) -> None:
    payloads = []
    for _ in range(chance.choice([1, 1, 3, 60])):
        beats = chance.choice([1, 1, 2, 3, 4, 5, 7, 32, 255])
        payloads.append(bytes([beats, chance.choice([0, 1, 2, 3, 4, 5, 6, 6]), 24, 8]))
    if chance.random() < 0.1:
        payloads.append(chance.choice([b"", b"\4", b"\0\2\30\10", b"\4\7\30\10", b"\4\xff"]))
    _put_in(chance, file, [_meta(0x58, payload) for payload in payloads])


def _meta_text(chance: random.Random, file: Loose) -> None:
    texts = [b"", b"verse", b"chorus", b"=1+1", b"a,b", b'"quoted"', b"\xff\xfe\xc0", b"a\0b"]
    texts += [b"<script>alert(1)</script>", b"line\nline\r\n", b"\x1b[2J\x07", "\u202eא".encode()]
    texts += [b"x" * 4000, b"[bold]rich[/bold] [/] [", b"@SUM(A1)", b"\t-2", "e\u0301".encode()]
    count = chance.choice([1, 3, 30, 2000])
    kinds = chance.choice([(6,), (1, 3), (1, 2, 3, 4, 5, 6, 7, 9)])
    bodies = [_meta(chance.choice(kinds), chance.choice(texts)) for _ in range(count)]
    room = LARGEST // 2
    while sum(map(len, bodies)) > room:
        bodies = bodies[::2]
    _put_in(chance, file, bodies)


def _meta_end(chance: random.Random, file: Loose) -> None:
    if chance.random() < 0.5:
        _put_in(chance, file, [b"\xff\x2f\0"])
        return
    for one in file.chunks:
        one.events = [event for event in one.events if event.body[:2] != b"\xff\x2f"]


def _meta_other(chance: random.Random, file: Loose) -> None:
    payload = chance.randbytes(chance.choice([0, 1, 2, 5, 130]))
    _put_in(chance, file, [_meta(chance.randrange(128), payload)])


# Growth: where time and memory would run away.


def _flood(chance: random.Random, file: Loose) -> None:
    """A run of events again and again: at once, close together, or over hours."""
    chunk = chance.choice(file.chunks)
    run = list(chunk.events[:-1])
    begin = chance.randrange(len(run)) if run else 0
    run = run[begin : begin + chance.choice([1, 2, 8, 60])]
    size = sum(len(event.delta) + len(event.body) + 3 for event in run)
    if not size:
        return
    times = chance.choice([5, 100, 3000, LARGEST]) // max(len(run), 1)
    times = min(times, (LARGEST - min(LARGEST, len(file.to_bytes()))) // size)
    delta = chance.choice([None, b"\0", b"\1", b"\x30", quantity(480), quantity(200_000)])
    copies = [Event(delta or event.delta, event.body) for event in run]
    chunk.events[begin:begin] = [copy for _ in range(times) for copy in copies]


def _flood_of_hits(chance: random.Random, file: Loose) -> None:
    """Thousands of hits: in one place, on a grid, or anywhere."""
    chunk = chance.choice(file.chunks)
    count = chance.choice([50, 500, 4000, 12_000])
    most = chance.choice([0, 0, 2, 120, 4000])
    notes = chance.choice([[36], [38], [42], [36, 38, 42, 49], list(range(128))])
    releases = chance.random() < 0.3
    events = []
    for _ in range(count):
        note = chance.choice(notes)
        delta = quantity(chance.randint(0, most))
        events.append(Event(delta, bytes([0x99, note, chance.randint(1, 127)])))
        if releases:
            events.append(Event(b"\0", bytes([0x89, note, 64])))
    room = LARGEST - min(LARGEST, len(file.to_bytes()))
    del events[room // 6 :]
    chunk.events[: min(1, len(chunk.events))] = events


#: What is done to a file by its parts.
MUTATIONS: tuple[Mutation, ...] = (
    *(_chunk_drop, _chunk_double, _chunk_shuffle, _chunk_unknown, _chunk_rename),
    *(_chunk_length, _chunk_empty, _chunk_many, _chunk_split, _header, _division),
    *(_delta_zero, _delta_huge, _delta_padded, _delta_scaled, _delta_random),
    *(_length_lie, _length_padded, _body_cut),
    *(_status_other, _status_channel, _status_running, _status_system, _data_above),
    *(_note_other, _velocity, _velocity),
    *(_meta_tempo, _meta_meter, _meta_text, _meta_end, _meta_other),
    *(_flood, _flood_of_hits),
)


def distorted(chance: random.Random, base: bytes) -> bytes:
    """A sound file, put together again with some of its parts changed."""
    file = come_loose(base)
    for _ in range(chance.choice([1, 1, 2, 3, 6])):
        # Mutations of mutations may outgrow all bounds; then it is enough.
        if file.chunks and sum(len(one.events) for one in file.chunks) < 4 * LARGEST:
            chance.choice(MUTATIONS)(chance, file)
        if len(file.to_bytes()) > 10 * LARGEST:
            break
    return file.to_bytes()[:LARGEST]
