"""A beat that is named, under a tempo that is followed; bars that a hint counts otherwise."""

import numpy as np
import pytest
from tests.pulse.test_search import _onsets, _steady

from evenhand.pulse.search import FOLLOW, fit_beats
from evenhand.pulse.steady import Hints


def test_the_first_beat_that_is_named_begins_a_bar() -> None:
    onsets = _steady(100.0, 20)
    named = 1.0 + 2 * 0.6 + 0.05
    fit = fit_beats(onsets, Hints(first_beat=named, beats=4, unit=4), FOLLOW)
    # It lies where it was named, not where the hits are, and opens a bar.
    away = np.abs(fit.beat - named)
    assert away.min() == pytest.approx(0, abs=0.02)
    assert int(np.argmin(away)) % 4 == 0
    assert np.median(np.diff(fit.beat)) == pytest.approx(0.6, rel=0.01)


def test_a_pause_in_the_middle_is_followed_over() -> None:
    one, other = _steady(100.0, 12), _steady(100.0, 12, start=1.0 + 0.6 * 4 * 18)
    rows = [
        (float(s), str(piece), round(127 * float(weight) ** 2))
        for part in (one, other)
        for s, piece, weight in zip(part.s, part.piece, part.weight, strict=True)
    ]
    fit = fit_beats(_onsets(rows), Hints(), FOLLOW)
    assert np.median(np.diff(fit.beat)) == pytest.approx(0.6, rel=0.01)
    beat = fit.beat[(fit.beat > 1) & (fit.beat < 29)]
    assert np.abs((beat - 1.0 + 0.3) % 0.6 - 0.3).max() < 0.03
