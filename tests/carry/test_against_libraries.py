"""The carry and the tempo map against what other libraries make of the same numbers."""

import io
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.build import midi_bytes, plain_recipe, track
from tests.lengths import examples

from evenhand import Take, read_take, tighten

#: Full strength and no window: every anchor goes to its line, so the map is known beforehand.
FULL = plain_recipe(window=0, strength=100, reach=50, ghost_below=1)

DIVISION = 480
LAST = 15


def _take(offs: list[int], between: list[int], bpm: float) -> bytes:
    """Kicks and snares on the beats, each off by some ticks; hats and the pedal in between."""
    events: list[tuple[int, mido.Message | mido.MetaMessage]] = [
        (0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm)))
    ]
    hits = [((1 + beat) * DIVISION + off, 38 if beat % 2 else 36) for beat, off in enumerate(offs)]
    for tick, note in [*hits, *((tick, 42) for tick in between)]:
        on = mido.Message("note_on", channel=9, note=note, velocity=90)
        events += [(tick, on), (tick + 25, mido.Message("note_off", channel=9, note=note))]
    for tick in between:
        pedal = mido.Message("control_change", channel=9, control=4, value=tick % 128)
        events.append((tick + 7, pedal))
    return midi_bytes(track(events), kind=0, division=DIVISION)


OFFS = st.lists(st.integers(-59, 59), min_size=LAST, max_size=LAST)
BETWEEN = st.sets(st.integers(300, (LAST + 1) * DIVISION), max_size=30).map(sorted)
BPM = st.sampled_from([60, 93, 120, 187])


@settings(max_examples=examples(60), deadline=None, derandomize=True)
@given(OFFS, BETWEEN, BPM)
def test_numpy_interp_carries_the_same_way(offs: list[int], between: list[int], bpm: float) -> None:
    changes = tighten(Take.from_bytes(_take(offs, between, bpm)), FULL).changes
    lines = np.arange(1, LAST + 1) * DIVISION
    # No tolerance but the rounding to whole ticks; np.rint gives ties to the even one.
    shift = np.interp(changes.hits.tick, lines + offs, -np.array(offs))
    assert np.array_equal(changes.tick_after, np.rint(np.round(changes.hits.tick + shift, 6)))


@settings(max_examples=examples(40), deadline=None, derandomize=True)
@given(OFFS, BETWEEN, BPM)
def test_pretty_midi_adjusts_times_the_same_way(
    offs: list[int], between: list[int], bpm: float
) -> None:
    data = _take(offs, between, bpm)
    tightened = tighten(Take.from_bytes(data), FULL).take
    lines = np.arange(1, LAST + 1) * DIVISION
    places, goes = lines + offs, lines
    # `adjust_times` drops what lies outside its times, the carry goes on with the same shift.
    ends = np.array([-400, 4000])
    places = np.array([places[0] + ends[0], *places, places[-1] + ends[1]])
    goes = np.array([goes[0] + ends[0], *goes, goes[-1] + ends[1]])
    seconds_per_tick = 60 / bpm / DIVISION
    theirs = pretty_midi.PrettyMIDI(io.BytesIO(data))
    theirs.adjust_times(places * seconds_per_tick, goes * seconds_per_tick)
    ours = tightened.to_pretty_midi()
    # mido rounds the tempo to whole microseconds per quarter; over 10 s that is 10 µs at most.
    tolerance = 0.5 * seconds_per_tick + 2e-5
    for one, other in zip(ours.instruments, theirs.instruments, strict=True):
        assert len(one.notes) == len(other.notes) == len(offs) + len(between)
        for mine, your in zip(one.notes, other.notes, strict=True):
            assert (mine.pitch, mine.velocity) == (your.pitch, your.velocity)
            assert mine.start == pytest.approx(your.start, abs=tolerance)
            assert mine.end == pytest.approx(your.end, abs=tolerance)
        for mine, your in zip(one.control_changes, other.control_changes, strict=True):
            assert (mine.number, mine.value) == (your.number, your.value)
            assert mine.time == pytest.approx(your.time, abs=tolerance)


# One take has a hit that is released in its own tick; the test looks at the others.
@pytest.mark.filterwarnings("ignore::evenhand.LossWarning")
def test_pretty_midi_adjusts_the_times_of_real_takes_the_same_way(takes: list[Path]) -> None:
    tried = 0
    for path in sorted(takes, key=lambda path: path.stat().st_size)[45:100:6]:
        take = read_take(path)
        if len(take.tempo.tick) > 1:
            continue
        tried += 1
        result = tighten(take, plain_recipe())
        knots = result.carry.map
        places, first = np.unique(knots.tick, return_index=True)
        seconds = float(take.tempo.to_ms(1)) / 1000
        times = places * seconds
        theirs = take.to_pretty_midi()
        (drums,) = theirs.instruments
        # What `adjust_times` leaves, in its order.
        inside = [note for note in drums.notes if times[0] <= note.start and note.end <= times[-1]]
        theirs.adjust_times(times, times + knots.shift[first] * seconds)
        changes = result.changes
        columns = (changes.hits.note.tolist(), changes.hits.tick.tolist(), changes.ms_after)
        goes = {(note, tick): after for note, tick, after in zip(*columns, strict=True)}
        assert len(inside) > 0.9 * len(take.hits())
        for was, now in zip(inside, drums.notes, strict=True):
            told = goes[was.pitch, round(was.start / seconds)] / 1000
            assert told == pytest.approx(now.start, abs=0.5 * seconds + 1e-6)
    assert tried > 3


TEMPI = st.lists(
    st.tuples(st.integers(1, 3000), st.integers(200_000, 2_000_000)), min_size=1, max_size=8
)


def _changing(tempi: list[tuple[int, int]], division: int) -> tuple[bytes, list[int]]:
    """A take with tempo changes, each some ticks behind the last, and ticks around them."""
    now, events = 0, []
    for gap, tempo in tempi:
        events.append((now, mido.MetaMessage("set_tempo", tempo=tempo)))
        now += gap
    kick = mido.Message("note_on", channel=9, note=36, velocity=100)
    events.append((now + 1000, kick))
    places = {tick + step for tick, _ in events for step in (-1, 0, 1, 17)}
    data = midi_bytes(track(events), kind=0, division=division)
    return data, sorted(tick for tick in places if tick >= 0)


@settings(max_examples=examples(60), deadline=None, derandomize=True)
@given(TEMPI, st.sampled_from([24, 96, 480, 960]))
def test_ticks_and_ms_under_tempo_changes(tempi: list[tuple[int, int]], division: int) -> None:
    data, ticks = _changing(tempi, division)
    tempo = Take.from_bytes(data).tempo
    ours = tempo.to_ms(ticks)
    midi = pretty_midi.PrettyMIDI(io.BytesIO(data))
    # pretty_midi keeps tempi as seconds per tick made from bpm; that rounds in the tenth digit.
    theirs = [1000 * midi.tick_to_time(tick) for tick in ticks]
    assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-6)
    assert tempo.to_tick(ours) == pytest.approx(ticks, abs=1e-6)
    places = [midi.time_to_tick(ms / 1000) for ms in ours]
    assert np.rint(tempo.to_tick(ours)).tolist() == places


@settings(max_examples=examples(60), deadline=None, derandomize=True)
@given(TEMPI, st.sampled_from([24, 96, 480, 960]))
def test_mido_adds_up_the_same_seconds(tempi: list[tuple[int, int]], division: int) -> None:
    data, ticks = _changing(tempi, division)
    ours = Take.from_bytes(data).tempo.to_ms(ticks)
    changes = [(0, 500_000)]
    now = 0
    for gap, tempo in tempi:
        changes.append((now, tempo))
        now += gap
    for tick, ms in zip(ticks, ours, strict=True):
        seconds = 0.0
        ends = [begin for begin, _ in changes[1:]] + [tick]
        for (begin, tempo), end in zip(changes, ends, strict=True):
            seconds += mido.tick2second(max(0, min(end, tick) - begin), division, tempo)
        assert ms == pytest.approx(1000 * seconds, rel=1e-12, abs=1e-9)
