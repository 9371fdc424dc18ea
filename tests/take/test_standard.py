"""Standard MIDI Files 1.0 (RP-001): its tables and examples, the unusual and the damaged."""

import numpy as np
import pytest
from tests import invariants
from tests.build import plain_recipe
from tests.raw import END, KICK, SNARE, chunk, header, track

from evenhand import EvenhandError, MidiFileError, Take, tighten
from evenhand.take import vlq

# RP-001, "Conventions": quantities and how they are written (looked up).
TABLE = {
    0x00000000: "00",
    0x00000040: "40",
    0x0000007F: "7F",
    0x00000080: "81 00",
    0x00002000: "C0 00",
    0x00003FFF: "FF 7F",
    0x00004000: "81 80 00",
    0x00100000: "C0 80 00",
    0x001FFFFF: "FF FF 7F",
    0x00200000: "81 80 80 00",
    0x08000000: "C0 80 80 00",
    0x0FFFFFFF: "FF FF FF 7F",
}


@pytest.mark.parametrize(("value", "text"), TABLE.items())
def test_variable_length_table(value: int, text: str) -> None:
    written = bytes.fromhex(text)
    assert vlq.encode(value) == written
    assert vlq.read(b"\x00" + written + b"\x00", 1) == (value, 1 + len(written))
    buffer = np.frombuffer(written, np.uint8)
    assert vlq.decode(buffer, np.array([0]), np.array([len(written)])).tolist() == [value]


@pytest.mark.parametrize(("value", "text"), TABLE.items())
def test_variable_length_table_as_delta_times(value: int, text: str) -> None:
    data = header() + track(f"{text} 99 24 64 00 24 00 {END}")
    take = Take.from_bytes(data)
    assert take.hits().tick.tolist() == [value]
    assert take.to_bytes() == data


def test_every_delta_is_written_back_in_its_shortest_form() -> None:
    data = header() + track(f"00 99 24 64 00 24 00 {END}")
    take = Take.from_bytes(data)
    for value, text in TABLE.items():
        moved = take.retimed([np.array([value, value, value])]).to_bytes()
        assert moved == header() + track(f"{text} 99 24 64 00 24 00 {END}")


# The two example files at the end of RP-001, from memory; their stated lengths agree.
FORMAT_0 = bytes.fromhex(
    """
    4D 54 68 64  00 00 00 06  00 00  00 01  00 60
    4D 54 72 6B  00 00 00 3B
    00 FF 58 04 04 02 18 08  00 FF 51 03 07 A1 20
    00 C0 05  00 C1 2E  00 C2 46
    00 92 30 60  00 3C 60  60 91 43 40  60 90 4C 20
    81 40 82 30 40  00 3C 40  00 81 43 40  00 80 4C 40
    00 FF 2F 00
    """
)
FORMAT_1 = bytes.fromhex(
    """
    4D 54 68 64  00 00 00 06  00 01  00 04  00 60
    4D 54 72 6B  00 00 00 14
    00 FF 58 04 04 02 18 08  00 FF 51 03 07 A1 20  83 00 FF 2F 00
    4D 54 72 6B  00 00 00 10
    00 C0 05  81 40 90 4C 20  81 40 4C 00  00 FF 2F 00
    4D 54 72 6B  00 00 00 0F
    00 C1 2E  60 91 43 40  82 20 43 00  00 FF 2F 00
    4D 54 72 6B  00 00 00 15
    00 C2 46  00 92 30 60  00 3C 60  83 00 30 00  00 3C 00  00 FF 2F 00
    """
)


def _events(take: Take) -> list[list[tuple[int, int, int, int]]]:
    return [
        list(
            zip(
                *(column.tolist() for column in (one.tick, one.status, one.data1, one.data2)),
                strict=True,
            )
        )
        for one in take.smf.tracks
    ]


def test_the_example_of_format_0() -> None:
    take = Take.from_bytes(FORMAT_0)
    assert take.to_bytes() == FORMAT_0
    assert (take.smf.format, take.division) == (0, 96)
    assert _events(take) == [
        [
            (0, 0xFF, 0x58, 0),
            (0, 0xFF, 0x51, 0),
            (0, 0xC0, 5, 0),
            (0, 0xC1, 46, 0),
            (0, 0xC2, 70, 0),
            (0, 0x92, 48, 96),
            (0, 0x92, 60, 96),
            (96, 0x91, 67, 64),
            (192, 0x90, 76, 32),
            (384, 0x82, 48, 64),
            (384, 0x82, 60, 64),
            (384, 0x81, 67, 64),
            (384, 0x80, 76, 64),
            (384, 0xFF, 0x2F, 0),
        ]
    ]
    assert take.smf.tracks[0].metas(0x58) == [(0, bytes([4, 2, 24, 8]))]
    # 4/4, 120 bpm: the whole bar lasts two seconds.
    assert take.tempo.to_ms(384) == 2000
    assert str(take.meter.position(384)) == "2:1"


def test_the_example_of_format_1() -> None:
    take = Take.from_bytes(FORMAT_1)
    assert take.to_bytes() == FORMAT_1
    assert (take.smf.format, take.division) == (1, 96)
    assert _events(take) == [
        [(0, 0xFF, 0x58, 0), (0, 0xFF, 0x51, 0), (384, 0xFF, 0x2F, 0)],
        [(0, 0xC0, 5, 0), (192, 0x90, 76, 32), (384, 0x90, 76, 0), (384, 0xFF, 0x2F, 0)],
        [(0, 0xC1, 46, 0), (96, 0x91, 67, 64), (384, 0x91, 67, 0), (384, 0xFF, 0x2F, 0)],
        [
            (0, 0xC2, 70, 0),
            (0, 0x92, 48, 96),
            (0, 0x92, 60, 96),
            (384, 0x92, 48, 0),
            (384, 0x92, 60, 0),
            (384, 0xFF, 0x2F, 0),
        ],
    ]


@pytest.mark.parametrize("data", [FORMAT_0, FORMAT_1])
def test_the_examples_have_no_drums(data: bytes) -> None:
    with pytest.raises(MidiFileError, match=r"channels 1 .*, 2 .*, 3 .*--channel"):
        tighten(Take.from_bytes(data))


# Legal but unusual. What stands before KICK is at tick 0.
UNUSUAL = {
    "unknown chunk before the track": header() + chunk(b"XFIH", b"\x00\xff") + track(KICK + END),
    "unknown chunk between tracks": (
        header(tracks=2) + track(END) + chunk(b"abcd", b"MTrk") + track(KICK + END)
    ),
    "unknown chunk behind the tracks": header() + track(KICK + END) + chunk(b"Junk", b"123"),
    "empty unknown chunk": header() + chunk(b"void", b"") + track(KICK + END),
    "longer header": header(more="DE AD BE EF") + track(KICK + END),
    "exclusive": header() + track(f"00 F0 05 7E 7F 09 01 F7 {KICK} {END}"),
    "empty exclusive": header() + track(f"00 F0 00 {KICK} {END}"),
    "exclusive in packets": header() + track(f"00 F0 03 43 12 00 00 F7 02 43 F7 {KICK} {END}"),
    "escape": header() + track(f"00 F7 02 F3 01 {KICK} {END}"),
    "sequencer-specific": header() + track(f"00 FF 7F 04 00 00 41 FF {KICK} {END}"),
    "unknown meta": header() + track(f"00 FF 60 03 01 FF 80 {KICK} {END}"),
    "empty meta": header() + track(f"00 FF 01 00 {KICK} {END}"),
    "odd key signature": header() + track(f"00 FF 59 02 60 07 {KICK} {END}"),
    "short key signature": header() + track(f"00 FF 59 00 {KICK} {END}"),
    "text that is not ASCII": header() + track(f"00 FF 01 05 FF FE 00 D8 80 {KICK} {END}"),
    "length of text in four bytes": header() + track(f"00 FF 01 80 80 80 01 41 {KICK} {END}"),
    "delta times longer than needed": header() + track(f"80 80 80 14 99 24 64 80 1E 24 00 {END}"),
    "note-off with its own status": header() + track(f"14 99 24 64 1E 89 24 40 {END}"),
    "end of track late": header() + track(f"{KICK} 8F 00 FF 2F 00"),
    "no end of track": header() + track(KICK),
    "bytes behind the end of track": header() + track(f"{KICK} {END} 99 FF 00 80"),
    "empty track": header(tracks=2) + track("") + track(KICK + END),
    "stray bytes at the end": header() + track(KICK + END) + b"\x00\x00MTrk",
    "more tracks than promised": header() + track(KICK + END) + track(KICK + END),
    "tempo in a later track": (
        header(tracks=2) + track(KICK + END) + track(f"00 FF 51 03 06 1A 80 {END}")
    ),
    "tempo with more bytes": header() + track(f"00 FF 51 04 07 A1 20 00 {KICK} {END}"),
    "meter change in a later track": (
        header(tracks=2) + track(KICK + END) + track(f"87 40 FF 58 04 03 02 18 08 {END}")
    ),
    "short meter": header() + track(f"00 FF 58 02 06 03 {KICK} {END}"),
    "two channels in one track": header(kind=0)
    + track(f"05 90 3C 40 0F 99 24 64 00 90 3C 00 {END}"),
    "overlapping notes": header() + track(f"14 99 24 64 02 24 50 05 24 00 05 24 00 {END}"),
    "never released": header() + track(f"14 99 24 64 {END}"),
    "released without being struck": header() + track(f"00 99 24 00 {KICK} {END}"),
    "pedal, choke, program, pressure, bend": header()
    + track(f"00 B9 04 5A 00 A9 31 7F 00 C9 19 00 D9 40 00 E9 00 40 14 99 24 64 1E 24 00 {END}"),
    "smallest division": header(division=1) + track("14 99 24 64 00 24 00 00 FF 2F 00"),
    "24 ticks": header(division=24) + track(KICK + END),
    "32767 ticks": header(division=32767) + track(f"8A 00 99 24 64 1E 24 00 {END}"),
    "very large deltas": header() + track(f"FF FF FF 7F 99 24 64 FF FF FF 00 24 00 {SNARE} {END}"),
    "type 1 with one track": header(kind=1) + track(KICK + SNARE + END),
    "type 0": header(kind=0) + track(KICK + SNARE + END),
}


@pytest.mark.parametrize("data", UNUSUAL.values(), ids=UNUSUAL)
def test_unusual_files_survive(data: bytes) -> None:
    take = Take.from_bytes(data)
    assert take.to_bytes() == data
    result = tighten(take, plain_recipe(window=0, strength=100, reach=100, ghost_below=1))
    invariants.bytes_are_kept(result)
    # With one tick per quarter there is nowhere else to go.
    assert (result.changes.action == "moved").any() or take.division == 1
    # What was written is read again as it stands.
    again = Take.from_bytes(result.take.to_bytes())
    assert again.to_bytes() == result.take.to_bytes()
    assert np.array_equal(again.hits().tick, result.changes.tick_after)


def test_an_untouched_delta_keeps_its_long_form() -> None:
    data = header() + track(f"14 99 24 64 80 80 80 1E 24 00 80 80 00 FF 2F 00 {END}")
    result = tighten(Take.from_bytes(data), plain_recipe(window=0, strength=100, ghost_below=1))
    # Kick and release move by 20 alike; what follows keeps its place, the last delta its bytes.
    expected = header() + track(f"00 99 24 64 80 80 80 1E 24 00 14 FF 2F 00 {END}")
    assert result.take.to_bytes() == expected


def test_the_end_gives_way_only_where_it_must() -> None:
    # The kick is 20 ticks early at 460; its release at 475 goes to 495, behind the end at 480.
    early = header() + track("83 4C 99 24 64 0F 24 00 05 FF 2F 00")
    result = tighten(Take.from_bytes(early), plain_recipe(window=0, strength=100, ghost_below=1))
    assert result.take.to_bytes() == header() + track("83 60 99 24 64 0F 24 00 00 FF 2F 00")


def test_an_exclusive_in_packets_is_not_split() -> None:
    # The kick at 20 would go to 0 and its release to 12, between the packets at 10 and 19.
    packets = "0A F0 03 43 12 00 09 F7 02 43 F7"
    data = header() + track(f"{packets} 01 99 24 64 0C 24 00 {END}")
    whole = header() + track(f"0A F0 04 43 12 00 F7 09 F7 02 43 01 01 99 24 64 0C 24 00 {END}")
    recipe = plain_recipe(window=0, strength=100, ghost_below=1)
    with pytest.raises(MidiFileError, match="inside a system-exclusive message") as caught:
        tighten(Take.from_bytes(data), recipe)
    assert str(caught.value).isprintable()
    # An escape behind a complete message is no packet of it.
    invariants.bytes_are_kept(tighten(Take.from_bytes(whole), recipe))


def test_a_pause_that_would_get_too_long_is_refused() -> None:
    # The kick goes from 0FFFFFFF to the line 15 ticks before; what follows keeps its place.
    data = header() + track("FF FF FF 7F 99 24 64 FF FF FF 7F FF 2F 00")
    with pytest.raises(MidiFileError, match="pause would become longer") as caught:
        tighten(Take.from_bytes(data), plain_recipe(window=0, strength=100, ghost_below=1))
    assert str(caught.value).isprintable()
    with pytest.raises(MidiFileError, match="pause would become longer"):
        Take.from_bytes(data).finer(960)


_BAD_VLQ = "a variable-length quantity is longer"
DAMAGED = {
    "empty": (b"", "not a Standard MIDI File"),
    "text": (b"hello, this is not music at all", "not a Standard MIDI File"),
    "half a header": (header()[:10], "header is cut short"),
    "header that says too little": (
        chunk(b"MThd", bytes(6), 4) + track(KICK + END),
        "header is cut short",
    ),
    "header that says too much": (
        chunk(b"MThd", b"\0\1\0\1\1\xe0", 0xFFFFFFFF) + track(KICK + END),
        "header is cut short",
    ),
    "type 2": (header(kind=2) + track(KICK + END), "type 2"),
    "type 7": (header(kind=7) + track(KICK + END), "type 7"),
    "type 0 with two tracks": (header(kind=0, tracks=2) + 2 * track(KICK + END), "type 0"),
    "SMPTE division": (header(division=0xE728) + track(KICK + END), "SMPTE"),
    "zero division": (header(division=0) + track(KICK + END), "0 ticks per quarter"),
    "no track": (header(tracks=1), "promises 1 tracks.* ends after 0"),
    "promised tracks that are missing": (
        header(tracks=65535) + track(KICK + END),
        "promises 65535 tracks.* ends after 1",
    ),
    "zero tracks": (header(tracks=0), "no notes"),
    "track longer than the file": (header() + track(KICK + END, 5000), "says 5000 bytes"),
    "track of four gigabytes": (header() + track(KICK + END, 0xFFFFFFFF), "says 4294967295 bytes"),
    "track shorter than its events": (header() + track(KICK + END, 6), "ends in the middle"),
    "a lie that hits a data byte": (
        header(tracks=2) + track(KICK + END, 7) + track(KICK + END),
        "byte 29: a chunk should begin here",
    ),
    "cut in a delta time": (header() + track("14 99 24 64 81"), "ends in the middle"),
    "cut in an event": (header() + track("14 99 24"), "ends in the middle"),
    "cut in a meta event": (header() + track("00 FF"), "ends in the middle"),
    "cut in an exclusive": (header() + track("00 F0"), "ends in the middle"),
    "meta longer than the track": (header() + track("00 FF 01 FF FF FF 7F 41"), "in the middle"),
    "exclusive longer than the track": (header() + track("00 F0 10 41 F7"), "in the middle"),
    "five-byte delta": (header() + track("80 80 80 80 14 99 24 64"), "longer than four bytes"),
    "endless delta": (header() + track("80 " * 500 + "14 99 24 64"), "longer than four bytes"),
    "five-byte meta length": (header() + track("00 FF 01 80 80 80 80 01 41"), _BAD_VLQ),
    "five-byte exclusive length": (header() + track("00 F0 80 80 80 80 01 F7"), _BAD_VLQ),
    "data byte first": (header() + track("00 24 64"), "a data byte where a status byte"),
    "running status behind an exclusive": (
        header() + track(f"{KICK} 00 F0 01 F7 00 24 64 {END}"),
        "a data byte where a status byte",
    ),
    "first data byte above 127": (header() + track(f"00 99 A4 64 {END}"), "above 127"),
    "second data byte above 127": (header() + track(f"00 99 24 E4 {END}"), "above 127"),
    "meta type above 127": (header() + track(f"00 FF 90 00 {END}"), "above 127"),
    "system common": (header() + track(f"00 F1 00 {KICK} {END}"), "status F1 is not allowed"),
    "system real time": (header() + track(f"00 F8 {KICK} {END}"), "status F8 is not allowed"),
    "zero tempo": (header() + track(f"00 FF 51 03 00 00 00 {KICK} {END}"), "tempo .* is zero"),
    "short tempo": (header() + track(f"00 FF 51 02 07 A1 {KICK} {END}"), "tempo .* cut short"),
    "no beats": (header() + track(f"00 FF 58 04 00 02 18 08 {KICK} {END}"), "meter .* no sense"),
    "denominator that overflows": (
        header() + track(f"00 FF 58 04 04 FF 18 08 {KICK} {END}"),
        "meter .* no sense",
    ),
    "denominator of 128": (header() + track(f"00 FF 58 04 04 07 18 08 {KICK} {END}"), "no sense"),
    "meter cut short": (header() + track(f"00 FF 58 01 04 {KICK} {END}"), "no sense"),
    "no notes": (header() + track(f"00 B9 04 40 {END}"), "no notes"),
    "notes of no velocity": (header() + track(f"00 99 24 00 {END}"), "no notes"),
    "no drums": (header() + track(f"00 90 3C 40 00 91 3C 40 {END}"), "no drums on channel 10"),
}


@pytest.mark.parametrize(("data", "message"), DAMAGED.values(), ids=DAMAGED)
def test_damaged_files_are_refused_in_one_line(data: bytes, message: str) -> None:
    with pytest.raises(MidiFileError, match=message) as caught:
        tighten(Take.from_bytes(data, "broken.mid"))
    text = str(caught.value)
    assert text.startswith("broken.mid: ")
    assert text.isprintable()
    assert len(text) < 250


def test_cutting_a_file_short_anywhere_is_noticed() -> None:
    data = header(tracks=2) + track(f"00 FF 58 04 04 02 18 08 {END}") + track(KICK + SNARE + END)
    for size in range(len(data)):
        with pytest.raises(EvenhandError, match=r"cut short|not a Standard"):
            Take.from_bytes(data[:size])
