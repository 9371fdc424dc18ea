"""Tempo maps: what counts where several tracks speak, and the ends of the map."""

import mido
import pytest
from tests.build import midi_bytes, track
from tests.raw import END, KICK, header
from tests.raw import track as raw_track

from evenhand import Take


def _tempi(*tracks: list[tuple[int, int]]) -> Take:
    written = [
        track([(tick, mido.MetaMessage("set_tempo", tempo=tempo)) for tick, tempo in changes])
        for changes in tracks
    ]
    return Take.from_bytes(midi_bytes(*written))


def test_without_a_tempo_it_is_120_bpm() -> None:
    # RP-001: "no tempo event" means 120 quarter notes per minute.
    take = _tempi([(960, 250_000)])
    assert take.tempo.to_ms([0, 480, 960, 1440]) == pytest.approx([0, 500, 1000, 1250])
    assert take.tempo.bpm.tolist() == [120, 240]


def test_of_two_tempi_at_one_place_in_a_track_the_last_counts() -> None:
    assert _tempi([(0, 250_000), (0, 600_000)]).tempo.tempo.tolist() == [600_000]
    assert _tempi([(0, 600_000), (0, 250_000)]).tempo.tempo.tolist() == [250_000]


@pytest.mark.parametrize("order", [1, -1])
def test_of_two_tempi_at_one_place_in_two_tracks_the_slower_counts(order: int) -> None:
    tracks = [[(0, 250_000), (480, 600_000)], [(0, 400_000), (480, 300_000)]]
    assert _tempi(*tracks[::order]).tempo.tempo.tolist() == [400_000, 600_000]


@pytest.mark.parametrize("order", [1, -1])
def test_of_two_meters_at_one_place_in_two_tracks_the_longer_counts(order: int) -> None:
    tracks = [
        track([(0, mido.MetaMessage("time_signature", numerator=beats, denominator=unit))])
        for beats, unit in ((3, 4), (7, 8))
    ]
    take = Take.from_bytes(midi_bytes(*tracks[::order]))
    assert (take.meter.beats.tolist(), take.meter.unit.tolist()) == ([7], [8])


def test_a_tempo_with_more_bytes_is_its_first_three() -> None:
    take = Take.from_bytes(header() + raw_track(f"00 FF 51 04 06 1A 80 55 {KICK} {END}"))
    assert take.tempo.tempo.tolist() == [400_000]


def test_before_the_start_the_first_tempo_goes_on() -> None:
    tempo = _tempi([(0, 400_000), (480, 800_000)]).tempo
    assert tempo.to_ms([-240, 720]) == pytest.approx([-200, 800])
    assert tempo.to_tick([-200, 800]) == pytest.approx([-240, 720])
