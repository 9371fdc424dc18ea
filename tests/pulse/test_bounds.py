"""Finding a tempo takes time by the hits, not by the hours between them."""

import contextlib
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.build import drum_bytes

from evenhand import EvenhandError, MidiFileError, Recipe, Take, fit
from evenhand.pulse.bars import without_silence


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
