"""Hits that last only a tick go on lasting where the map of time shortens."""

import io

import mido
import numpy as np
import pretty_midi
from tests.build import KICK, SNARE, midi_bytes, track

from evenhand import Recipe, Take, tighten
from evenhand.carry.releases import keep_lasting


def _keep(*events: tuple[int, int, int, int]) -> list[int]:
    columns = [np.array(column) for column in zip(*events, strict=True)]
    return keep_lasting(*columns).tolist()


def test_a_release_that_fell_onto_its_hit_goes_on() -> None:
    assert _keep((1, 36, 10, 9), (0, 36, 11, 9)) == [9, 10]
    assert _keep((1, 36, 10, 9), (0, 36, 11, 9), (1, 36, 30, 28)) == [9, 10, 28]


def test_releases_at_one_tick_go_together() -> None:
    both = [(1, 36, 10, 9), (1, 38, 10, 9), (0, 36, 11, 9), (0, 38, 11, 9), (1, 42, 14, 12)]
    assert _keep(*both) == [9, 9, 10, 10, 12]


def test_the_latest_hit_counts_where_notes_overlap() -> None:
    # The first release is late and belongs to the first hit; as in the real takes.
    events = [(1, 45, 10, 9), (1, 45, 50, 40), (0, 45, 50, 40), (0, 45, 51, 40)]
    assert _keep(*events) == [9, 40, 40, 41]


def test_nothing_is_overtaken() -> None:
    events = [(1, 36, 10, 9), (0, 36, 11, 9), (1, 38, 11, 9), (0, 38, 20, 16)]
    assert _keep(*events) == [9, 9, 9, 16]


def test_what_had_no_length_gets_none_and_others_stay() -> None:
    assert _keep((1, 36, 10, 9), (0, 36, 10, 9)) == [9, 9]
    assert _keep((1, 36, 10, 9), (0, 38, 11, 9), (-1, 36, 11, 9)) == [9, 9, 9]
    assert _keep((1, 36, 10, 9), (0, 36, 12, 10)) == [9, 10]


def test_pretty_midi_hears_every_hit() -> None:
    # The hats lie in a stretch that shrinks to three fifths; one tick each, they would vanish.
    events = []
    for tick, note in ((920, KICK), (1120, SNARE), *((930 + 14 * n, 42) for n in range(12))):
        on = mido.Message("note_on", channel=9, note=note, velocity=100)
        events += [(tick, on), (tick + 1, on.copy(velocity=0))]
    data = midi_bytes(track(events), kind=0)
    recipe = Recipe(grid="1/16", window=0, strength=100, reach=50)
    result = tighten(Take.from_bytes(data), recipe)
    assert set(result.changes.action.tolist()) == {"moved", "carried"}
    midi = pretty_midi.PrettyMIDI(io.BytesIO(result.take.to_bytes()))
    notes = midi.instruments[0].notes
    assert len(notes) == len(events) // 2
    assert all(midi.time_to_tick(note.end) - midi.time_to_tick(note.start) == 1 for note in notes)
