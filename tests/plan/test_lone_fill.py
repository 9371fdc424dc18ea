"""A take that is one fill: its shape stays, its rush is eased, its landing is on time."""

import numpy as np
import pytest
from tests.build import SNARE, TICKS_PER_MS, TOM, Note, drum_take

from evenhand import Recipe, Result, tighten
from evenhand.paper.playing import fills_json, fills_part
from evenhand.plan.lone_fill import _run as _run_of

# Four beats: two free hits, a triplet, five in a beat, three free hits; then the landing.
_PLACES = np.array(
    [0, 210, 330, 480, 640, 800, 960, 1056, 1152, 1248, 1344, 1440, 1517, 1675, 1920]
)


def _fill(stretch: float = 1.0, late: float = 0.0, landing: float = 0.0) -> list[Note]:
    place = _PLACES * stretch + 480 + late
    place[-1] += landing
    pieces = [SNARE, TOM] * 8
    return [(round(at), pieces[index]) for index, at in enumerate(place)]


def _run(notes: list[Note], **settings: object) -> Result:
    return tighten(drum_take(notes), Recipe(strength=100, **settings))  # type: ignore[arg-type]


def _ms(result: Result) -> list[float]:
    return (result.changes.shift_ms).tolist()


def test_it_is_worked_on_and_not_held() -> None:
    result = _run(_fill())
    assert result.ground.lone_fill
    assert [one.name if one else None for one in result.ground.layout.grids] == [None]
    assert set(result.changes.action) <= {"kept", "carried"}
    assert _ms(result) == [0] * len(_PLACES)
    anchors = result.changes.hits.role == "anchor"
    assert set(result.changes.reason[anchors]) == {"the take is one fill that keeps time"}


def test_a_rush_is_eased_and_the_shape_stays() -> None:
    # 2.5 % too fast: 48 ticks, 50 ms, ahead at the end.
    notes = _fill(0.975)
    after = _run(notes).changes.tick_after
    assert after.tolist() == pytest.approx((_PLACES + 480).tolist(), abs=2)
    # Half of it with half of the strength.
    half = tighten(drum_take(notes), Recipe(strength=50)).changes.tick_after
    assert half.tolist() == pytest.approx((_PLACES * 0.9875 + 480).tolist(), abs=2)


def test_a_fill_that_is_late_as_a_whole_is_moved_as_a_whole() -> None:
    shift = _ms(_run(_fill(late=30 * TICKS_PER_MS)))
    assert shift == pytest.approx([-30] * len(_PLACES), abs=1.1)


def test_only_the_landing_is_off() -> None:
    # The landing is 40 ms late: it alone is put back.
    shift = _ms(_run(_fill(landing=40 * TICKS_PER_MS)))
    assert shift[-1] == pytest.approx(-40, abs=1.1)
    anchors = list(range(0, len(_PLACES) - 1, 2))
    assert [shift[index] for index in anchors] == [0] * len(anchors)


def test_what_is_barely_noticed_stays() -> None:
    assert _ms(_run(_fill(late=10 * TICKS_PER_MS))) == [0] * len(_PLACES)


def test_other_dials_hold_it_as_before() -> None:
    for settings in ({"window": 10}, {"fills": "tight"}, {"fills": "as-played"}):
        result = _run(_fill(0.975), **settings)
        assert not result.ground.lone_fill
        assert set(result.changes.action) == {"held"}


def test_the_summary_tells_it() -> None:
    result = _run(_fill(0.975))
    (row,) = fills_json(result)
    assert (row["from"], row["to"], row["hits"]) == ("1:1", "3:1", len(_PLACES))
    assert "the take is one fill" in fills_part(result)[0].lines[0]


def test_what_has_too_few_beats_has_no_run() -> None:
    assert _slope([], [], [0.0, 2000.0]) == [0, 0]
    assert _slope([500.0], [40.0], [0.0, 2000.0]) == [0, 0]
    # Two beats tell where it lies, three how it drifts: 20 ms a second.
    assert _slope([0.0, 1000.0], [10.0, 30.0], [0.0, 2000.0]) == [20, 20]
    drift = [0.0, 20.0, 40.0]
    assert _slope([0.0, 1000.0, 2000.0], drift, [0.0, 3000.0]) == pytest.approx([0, 60])


def _slope(beat: list[float], off: list[float], ends: list[float]) -> list[float]:
    return _run_of(np.array(beat), np.array(off), np.array(ends)).tolist()
