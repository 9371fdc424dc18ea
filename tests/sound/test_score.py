"""The score: order, chokes, beats, click."""

import mido
import numpy as np
import pytest
from tests.build import drum_take, midi_bytes, track

from evenhand import MidiFileError, Take
from evenhand.kit.maps import KIT_MAPS
from evenhand.sound.score import CLICK_RATE, beats_of, click_samples, score_of

KIT = KIT_MAPS["ekit"]


def test_hits_in_time_order_with_their_number() -> None:
    hits = drum_take([(0, 36), (480, 38, 50), (960, 36)]).hits()
    score = score_of(hits, np.array([900.0, 100.0, 500.0]), KIT)
    assert score.hit.tolist() == [1, 2, 0]
    assert score.ms.tolist() == [100, 500, 900]
    assert [score.voices[voice] for voice in score.voice] == ["snare", "kick", "kick"]
    assert score.velocity.tolist() == [50, 100, 100]


def test_hats_choke_each_other_and_nothing_else() -> None:
    hits = drum_take([(0, 46), (100, 49), (480, 42), (600, 38), (960, 44)]).hits()
    score = score_of(hits, hits.ms, KIT)
    assert score.until_ms == pytest.approx([500, np.inf, 1000, np.inf, np.inf])


def changing_take() -> Take:
    guide = [
        (0, mido.MetaMessage("time_signature", numerator=3, denominator=4)),
        (3 * 480 * 2, mido.MetaMessage("time_signature", numerator=6, denominator=8)),
        (1000, mido.MetaMessage("set_tempo", tempo=430_000)),
        (4000, mido.MetaMessage("set_tempo", tempo=610_000)),
    ]
    drums = [
        (0, mido.Message("note_on", channel=9, note=36, velocity=90)),
        (3 * 480 * 2 + 6 * 240 * 3, mido.Message("note_off", channel=9, note=36)),
    ]
    return Take.from_bytes(midi_bytes(track(guide), track(drums)))


def test_first_beats_are_where_pretty_midi_has_them() -> None:
    take = changing_take()
    end = float(take.tempo.to_ms(take.end)) + 1
    ms, bar, first = beats_of(take, end)
    theirs = take.to_pretty_midi().get_downbeats() * 1000
    assert ms[first] == pytest.approx(theirs, abs=1e-6)
    assert bar[first].tolist() == list(range(1, first.sum() + 1))


def test_beats_are_whole_tick_steps_of_the_lower_number() -> None:
    take = changing_take()
    ms, _, _ = beats_of(take, float(take.tempo.to_ms(take.end)) + 1)
    ticks = [*range(0, 2880, 480), *range(2880, 2880 + 18 * 240 + 1, 240)]
    midi = take.to_pretty_midi()
    assert ms == pytest.approx([midi.tick_to_time(tick) * 1000 for tick in ticks], abs=1e-6)


def test_absurd_takes_are_refused() -> None:
    with pytest.raises(MidiFileError, match=r"5 hours long; up to 4 hours"):
        beats_of(drum_take([(0, 36)]), 5 * 3_600_000.0)
    with pytest.raises(MidiFileError, match="tempo makes no sense"):
        beats_of(drum_take([(0, 36), (2**27, 36)], bpm=50_000_000), 1000.0)


def test_click_peaks_at_one_in_its_first_sample() -> None:
    for shot in click_samples().values():
        assert shot.rate == CLICK_RATE
        assert shot.signal[0] == np.abs(shot.signal).max() == 1
        assert np.abs(shot.signal[-1]) < 0.01
