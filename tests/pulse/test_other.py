"""Hits with another tempo than their file."""

import math

import numpy as np
import pytest
from tests.pulse.invented import groove

from evenhand.pulse.other import OtherTempo, hear_other_tempo
from evenhand.pulse.recurrence import Onsets


def heard(onsets: Onsets, filed: float) -> OtherTempo | None:
    beat = onsets.s * filed / 60
    return hear_other_tempo(onsets, beat, beat % 4)


@pytest.mark.parametrize("bpm", [84, 90, 96, 100, 132, 145, 160, 180])
def test_a_file_that_says_120_by_default(bpm: float) -> None:
    """90 and 180 are all triplets at 120, 160 nearly all dotted eighths."""
    found = heard(groove(24, bpm, spread_ms=12), 120)
    assert found is not None
    assert found.bpm in (bpm, bpm / 2)
    assert found.filed == pytest.approx(120)
    assert math.isnan(found.away_ms)
    seconds = (24 * 4 - 0.5) * 60 / bpm
    assert found.doubt == pytest.approx(found.bpm * 0.035 / seconds, rel=0.01)


def test_a_tempo_that_was_rounded() -> None:
    found = heard(groove(40, 96, spread_ms=12), 96.2)
    assert found is not None
    # Within the doubt of a whole number, as clicks have.
    assert found.bpm == 96
    assert found.filed == pytest.approx(96.2)
    assert found.away_ms == pytest.approx(100_000 * 0.2 / 96.2, abs=30)
    odd = heard(groove(40, 96.4, spread_ms=12), 96.2)
    assert odd is not None
    assert odd.bpm == pytest.approx(96.4, abs=odd.doubt)


@pytest.mark.parametrize("bpm", [60, 75, 90, 120, 180, 240])
def test_the_file_is_right(bpm: float) -> None:
    onsets = groove(24, bpm, spread_ms=20, late_ms=-20)
    assert heard(onsets, bpm) is None
    # Half or twice the tempo is the same pulse, counted otherwise.
    assert heard(onsets, 2 * bpm) is None


def test_hits_without_a_pulse_or_too_few_say_nothing() -> None:
    random = np.random.default_rng(3)
    onsets = groove(24, 100)
    strewn = onsets.at(np.sort(random.uniform(0, 60, len(onsets))))
    assert heard(strewn, 120) is None
    assert heard(onsets.where(np.arange(len(onsets)) < 31), 120) is None
    assert heard(onsets.at(onsets.s / 20), 120) is None  # all in three seconds
