"""Finding a tempo takes time by the hits, not by the hours between them."""

import contextlib
import time
import tracemalloc

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.build import drum_bytes, midi_bytes, track

from evenhand import EvenhandError, MidiFileError, Recipe, Take, fit
from evenhand.pulse.away import find_away
from evenhand.pulse.bars import without_silence
from evenhand.pulse.off_lines import find_beside
from evenhand.pulse.recurrence import Onsets


@given(
    st.lists(st.sampled_from([0.0, 0.25, 1.0, 3.5, 127.0, 129.0, 5000.5, 1e6]), min_size=1),
    st.sampled_from([4, 12, 60, 420]),
    st.sampled_from([0.0, 2.0, 1e6]),
)
def test_silences_are_cut_by_whole_bars(gaps: list[float], bars: int, first: float) -> None:
    beat = np.cumsum(np.array([first, *gaps]))
    cut = without_silence(beat, bars)
    off = (beat - cut) % bars
    assert np.minimum(off, bars - off).max() < 1e-6
    silence = np.diff(cut, prepend=0.0)
    assert silence.min() >= 0
    assert silence.max() <= 128 + bars
    short = np.diff(beat, prepend=0.0) <= 16
    assert np.allclose(silence[short], np.diff(beat, prepend=0.0)[short])
    if beat[-1] > 64 * len(beat):
        assert silence.max() <= 16 + bars


def _sparse(hits: int, seconds: float) -> Take:
    """Hits strewn evenly over a long time."""
    chance = np.random.default_rng(5)
    ticks = np.sort(chance.uniform(0, seconds * 960, hits)).astype(int).tolist()
    return Take.from_bytes(drum_bytes([(tick, 36 + 2 * (tick % 2)) for tick in ticks]), "sparse")


def test_a_tempo_is_not_followed_through_silence() -> None:
    with pytest.raises(MidiFileError, match="too far apart to be followed"):
        fit(_sparse(100, 12_000), Recipe(fit="follow"))


def test_a_tempo_is_not_followed_for_hours() -> None:
    with pytest.raises(MidiFileError, match="minutes are too long to be followed"):
        fit(_sparse(6000, 12_000), Recipe(fit="follow"))


@pytest.mark.parametrize(("hits", "seconds"), [(60, 14_000.0), (2000, 14_000.0)])
def test_hours_between_hits_cost_nothing(hits: int, seconds: float) -> None:
    take = _sparse(hits, seconds)
    begin = time.process_time()
    with contextlib.suppress(EvenhandError):
        fit(take)
    # It took 8 s and more; the rest of a second is for a slow and busy machine.
    assert time.process_time() - begin < 3


def test_toms_alone_have_a_tempo() -> None:
    # No kick, snare or hat tells where bars begin.
    toms = [(480 * beat + beat % 3, 45) for beat in range(64) if beat % 4 != 3]
    found = fit(Take.from_bytes(drum_bytes(toms), "toms"))
    assert found.fit.bpm == pytest.approx(120, rel=0.001)


def test_no_beats_are_laid_under_days_of_silence() -> None:
    # A delta time holds 2 ** 28 ticks at the most: what stands between makes nine days possible.
    rest = [(250_000_000 * part, mido.MetaMessage("text", text="tacet")) for part in (1, 2, 3)]
    groove = []
    for beat in range(64):
        at, note = 750_000_001 + 480 * beat, 36 + 2 * (beat % 2)
        groove += [(at, mido.Message("note_on", channel=9, note=note, velocity=100))]
        groove += [(at + 30, mido.Message("note_off", channel=9, note=note))]
    with pytest.raises(MidiFileError, match="217 hours into the file, too far to lay beats"):
        fit(Take.from_bytes(midi_bytes(track([*rest, *groove])), "late"))


def test_hits_strewn_over_a_hundred_thousand_bars_take_no_memory() -> None:
    # At the fastest tempo that a file can state, so that it is not long in seconds.
    beat = np.sort(np.random.default_rng(6).uniform(0, 1e6, 300))
    tracemalloc.start()
    try:
        assert find_away(beat, beat % 4, np.ones(300), 0.05) is None
        assert tracemalloc.get_traced_memory()[1] < 2e6
    finally:
        tracemalloc.stop()


def test_hits_on_beats_an_hour_of_bars_apart_take_little_memory() -> None:
    # What lies on its beats is weighed with all bars of rest between.
    chance = np.random.default_rng(7)
    count = 12_000
    beat = np.cumsum(chance.integers(1, 120, count)).astype(np.float64)
    kind = np.arange(count) % 4
    onsets = Onsets(
        s=beat / 2,
        weight=np.ones(count),
        kick=kind == 0,
        snare=kind == 1,
        keeper=kind == 2,
        crash=kind == 3,
        piece=np.array(["kick", "snare", "hat", "crash"])[kind],
    )
    tracemalloc.start()
    try:
        find_beside(onsets, 2.0)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    # Four rows of 726,000 beats, and one more while they are made; with all made first: 70 MB.
    assert peak < 55e6
