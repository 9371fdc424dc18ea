"""A take that lies beside its lines as a whole."""

import numpy as np
import pytest
from tests.pulse.invented import groove

from evenhand.pulse.off_lines import Beside, find_beside


@pytest.mark.parametrize("bpm", [72, 100, 140, 180])
@pytest.mark.parametrize("late", [-64, -30, -9, 0, 20, 47, 71, 100])
def test_where_the_whole_take_lies(bpm: float, late: float) -> None:
    """At 180 bpm sixteenths are 83 ms apart: the beat, not the nearest line, says where."""
    onsets = groove(16, bpm, late_ms=late, spread_ms=8)
    found = find_beside(onsets, bpm / 60)
    assert found is not None
    assert found.ms == pytest.approx(late, abs=3)
    assert found.offset == (found.ms if abs(late) > 25 else 0)


def test_what_may_lean_and_what_may_not() -> None:
    assert [Beside(ms).offset for ms in (-25.1, -25, 25, 25.1)] == [-25.1, 0, 0, 25.1]
    assert [Beside(ms).may_lean for ms in (25, 26, -45, 46)] == [False, True, True, False]


def test_swing_does_not_pull_the_beat_away() -> None:
    """Second eighths 60 ms late: the beat lies 40 ms late, all hits in the middle at most 100."""
    onsets = groove(16, 100, late_ms=40)
    second = np.isclose((onsets.s - 0.04) * 100 / 60 % 1, 0.5)
    found = find_beside(onsets.at(onsets.s + 0.06 * second), 100 / 60)
    assert found is not None
    assert 38 <= found.ms <= 70


def test_even_hits_could_lie_elsewhere_as_well() -> None:
    """Hats alone, all alike: at 180 bpm 71 ms late is as good as 12 ms early, and more usual."""
    onsets = groove(16, 180, late_ms=71)
    hats = onsets.where(onsets.keeper)
    even = hats.at(np.arange(len(hats)) * 60 / 180 / 4 + 0.071)
    found = find_beside(even, 3.0)
    assert found is not None
    assert found.ms == pytest.approx(71 - 1000 / 12, abs=1)


def test_nothing_is_said_of_what_is_short_or_strewn_or_not_steady() -> None:
    assert find_beside(groove(1, 100, late_ms=50), 100 / 60) is None
    assert find_beside(groove(3, 240, late_ms=50), 4.0) is None
    random = np.random.default_rng(1)
    onsets = groove(16, 100)
    strewn = np.sort(random.uniform(0, 40, len(onsets)))
    assert find_beside(onsets.at(strewn), 100 / 60) is None
    # The second half 80 ms later than the first: no offset of the whole.
    parted = onsets.s + 0.08 * (np.arange(len(onsets)) > len(onsets) / 2)
    assert find_beside(onsets.at(parted), 100 / 60) is None
