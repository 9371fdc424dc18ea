"""Random takes for hypothesis: several tracks, channels, tempi, meters, divisions, odd places."""

import io
from dataclasses import dataclass
from itertools import pairwise

import mido
from hypothesis import strategies as st
from tests.build import timed

#: Kick, side stick, snare, rim, hats, ride, crash, tom, and a note that no kit map has.
NOTES = (36, 36, 37, 38, 38, 40, 42, 44, 46, 51, 49, 45, 3)

#: What makes the habit decide, unless spans are wanted.
BY_HABIT = {"reach": "auto", "window": "auto", "plan": "hits"}

Event = tuple[int, mido.Message | mido.MetaMessage]


@dataclass(frozen=True)
class RandomTake:
    """The events of each track with their ticks, in time order, and how to write them."""

    tracks: tuple[tuple[Event, ...], ...]
    division: int

    def to_bytes(self, kind: int = 1) -> bytes:
        """Write the tracks; type 0 merges them, event by event in time order."""
        tracks = self.tracks
        if kind == 0:
            merged = [event for track in self.tracks for event in track]
            tracks = (tuple(sorted(merged, key=lambda event: event[0])),)
        midi = mido.MidiFile(type=kind, ticks_per_beat=self.division)
        for events in tracks:
            track = mido.MidiTrack()
            ticks = [0, *(tick for tick, _ in events)]
            for (before, now), (_, message) in zip(pairwise(ticks), events, strict=True):
                track.append(timed(message, now - before))
            midi.tracks.append(track)
        buffer = io.BytesIO()
        midi.save(file=buffer)
        return buffer.getvalue()


@st.composite
def random_takes(draw: st.DrawFn, most: int = 24) -> RandomTake:
    """A take whose hits scatter around the sixteenths, some of them anywhere."""
    division = draw(st.sampled_from([24, 96, 120, 480, 480, 960, 1000]))
    sixteenth = division // 4
    places = st.one_of(
        st.builds(
            lambda line, off: max(0, line * sixteenth + off * sixteenth // 100),
            st.integers(0, 40),
            st.one_of(st.integers(-45, 45), st.sampled_from([-50, 0, 50])),
        ),
        st.integers(0, 40 * sixteenth),
    )
    count = draw(st.integers(1, 3))
    tracks: list[list[Event]] = [[] for _ in range(count)]

    def put(tick: int, message: mido.Message | mido.MetaMessage) -> None:
        tracks[draw(st.integers(0, count - 1))].append((tick, message))

    put(draw(places), mido.Message("note_on", channel=9, note=36, velocity=100))
    for tick in draw(st.lists(places, max_size=most)):
        note = draw(st.sampled_from(NOTES))
        velocity = draw(st.sampled_from([1, 20, 39, 40, 64, 100, 100, 127]))
        on = mido.Message("note_on", channel=9, note=note, velocity=velocity)
        off = mido.Message("note_off", channel=9, note=note)
        put(tick, on)
        put(tick + draw(st.integers(0, division)), off)
    for tick in draw(st.lists(places, max_size=4)):
        put(tick, mido.Message("control_change", channel=9, control=4, value=tick % 128))
    for tick in draw(st.lists(places, max_size=4)):
        put(tick, mido.Message("note_on", channel=1, note=60, velocity=1 + tick % 127))
    for tick in draw(st.lists(places, max_size=2)):
        put(tick, mido.MetaMessage("marker", text=f"at {tick}"))
    for tick in draw(st.lists(places, max_size=3, unique=True)):
        tempo = draw(st.sampled_from([250_000, 333_333, 500_000, 487_804, 1_000_000]))
        put(tick, mido.MetaMessage("set_tempo", tempo=tempo))
    for tick in draw(st.lists(places, max_size=2, unique=True)):
        beats, unit = draw(st.sampled_from([(4, 4), (3, 4), (6, 8), (7, 8), (5, 16), (2, 2)]))
        meter = mido.MetaMessage("time_signature", numerator=beats, denominator=unit)
        put(tick, meter)
    ordered = [tuple(sorted(track, key=lambda event: event[0])) for track in tracks]
    return RandomTake(tuple(ordered), division)


GRIDS = ("1/16", "1/16", "1/8", "1/4", "1/32", "1/8T", "1/16T", "1/4T", "1/16Q", "1/16S")


@st.composite
def dials(draw: st.DrawFn) -> dict[str, float | str]:
    """Settings that both the recipe and the oracle understand."""
    window = st.sampled_from(["auto", "auto", 0.0, 5.0, 12.5])
    return {
        "grid": draw(st.sampled_from(GRIDS)),
        "swing": draw(st.sampled_from([50.0, 50.0, 50.0, 58.0, 66.7, 20.0, 80.0])),
        "window": draw(window),
        "strength": draw(st.sampled_from([75.0, 100.0, 100.0, 33.3, 0.0])),
        "reach": draw(st.sampled_from([40.0, 50.0, 25.0, 100.0, 0.0])),
        "together": draw(st.sampled_from([20.0, 0.0, 5.0, 60.0])),
        "latency": draw(st.sampled_from([0.0, 0.0, 0.0, 5.0, 12.3, -8.0, 150.0])),
        "ghost_below": draw(st.sampled_from([40, 1, 65])),
    }


@st.composite
def crowded_takes(draw: st.DrawFn) -> RandomTake:
    """Kicks on neighbouring lines, each far early or far late: they get into each other's way."""
    division = draw(st.sampled_from([96, 480, 960]))
    sixteenth = division // 4
    offs = st.sampled_from([-48, -45, -40, -30, -10, 0, 10, 30, 40, 45, 48])
    events: list[Event] = []
    for line in sorted(draw(st.sets(st.integers(1, 16), min_size=2))):
        tick = line * sixteenth + draw(offs) * sixteenth // 100
        events.append((tick, mido.Message("note_on", channel=9, note=36, velocity=100)))
        if draw(st.booleans()):
            flam = tick + draw(st.integers(0, sixteenth // 8))
            events.append((flam, mido.Message("note_on", channel=9, note=38, velocity=90)))
        if draw(st.booleans()):
            hat = tick + draw(st.integers(0, sixteenth))
            events.append((hat, mido.Message("note_on", channel=9, note=42, velocity=60)))
    return RandomTake((tuple(sorted(events, key=lambda event: event[0])),), division)


@st.composite
def judgement(draw: st.DrawFn) -> dict[str, float | str]:
    """The dials that the oracle does not know."""
    return {
        "lean": draw(st.sampled_from([50.0, 0.0, 100.0])),
        "lean_follow": draw(st.sampled_from([0.0, 2.0])),
        "fills": draw(st.sampled_from(["loose", "tight", "as-played"])),
        "fill_landing": draw(st.sampled_from(["tight", "as-played"])),
        "ornaments": draw(st.sampled_from(["on", "off"])),
        "plan": draw(st.sampled_from(["hits", "spans"])),
        "span_cost": draw(st.sampled_from([30.0, 0.0, 200.0])),
        "syncopation": draw(st.sampled_from(["auto", "stay", "move"])),
        **draw(st.sampled_from([{}, BY_HABIT])),
        "habit": draw(st.sampled_from([100.0, 0.0, 50.0])),
        "most": draw(st.sampled_from([60.0, "off", 15.0])),
        "carry": draw(st.sampled_from(["limbs", "limbs", "together"])),
    }


def crowding() -> st.SearchStrategy[dict[str, float]]:
    """Settings under which strokes go far. Uneven gaps let them come near each other, too."""
    return st.fixed_dictionaries(
        {
            "swing": st.sampled_from([50.0, 75.0, 66.7, 25.0]),
            "reach": st.sampled_from([50.0, 100.0, 40.0]),
            "window": st.just(0.0),
            "strength": st.just(100.0),
            "ghost_below": st.just(1),
        }
    )
