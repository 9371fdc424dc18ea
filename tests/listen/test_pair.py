"""A take beside what came of it, or beside a second file."""

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_take

from evenhand import MidiFileError, Recipe, Take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.listen.pair import compare


@pytest.fixture(scope="module")
def result():
    return tighten(Take.from_bytes(demo_take(), "kettle-weather.mid"))


def test_deviations_are_those_of_the_change_log(result) -> None:
    shown, changes = compare(result), result.changes
    lined = ~np.isnan(changes.line)
    assert lined.any()
    assert not lined.all()
    assert shown.deviation_before[lined] == pytest.approx(changes.deviation_before[lined])
    assert shown.deviation_after[lined] == pytest.approx(changes.deviation_after[lined])
    assert shown.flags == result.flags


def test_hits_without_a_line_are_measured_from_the_nearest(result) -> None:
    shown = compare(result)
    loose = np.isnan(result.changes.line)
    lines = result.ground.layout.lines_at(result.tick, result.before.meter)
    nearest = result.before.tempo.to_ms(lines.tick)
    assert shown.line_ms[loose] == pytest.approx(nearest[loose])
    assert shown.deviation_after - shown.deviation_before == pytest.approx(result.changes.shift_ms)


def test_second_file_of_the_same_settings_keeps_reasons_and_flags(result) -> None:
    shown = compare(result, Take.from_bytes(result.take.to_bytes(), "tight"))
    assert shown.changes is result.changes
    assert shown.flags == result.flags
    assert shown.note == ""


def test_second_file_of_other_settings_is_shown_as_it_is(result) -> None:
    second = tighten(result.before, Recipe(strength=100, window=0)).take
    shown = compare(result, second)
    assert shown.changes.ms_after == pytest.approx(second.hits().ms)
    assert shown.deviation_after == pytest.approx(second.hits().ms - shown.line_ms)
    assert set(shown.changes.reason) == {"as in the second file"}
    assert shown.flags == ()
    assert "give the settings" in shown.note


def test_second_file_may_have_a_finer_division(result) -> None:
    finer = tighten(result.before, Recipe(resolution=960)).take
    assert compare(result, finer).note == ""


def test_another_take_is_refused() -> None:
    first = tighten(drum_take([(0, KICK), (480, SNARE)]))
    with pytest.raises(MidiFileError, match="holds 3 hits"):
        compare(first, drum_take([(0, KICK), (480, SNARE), (960, KICK)]))
    with pytest.raises(MidiFileError, match="hit 2 is another"):
        compare(first, drum_take([(0, KICK), (480, HAT)]))
    with pytest.raises(MidiFileError, match="hit 1 is another"):
        compare(first, drum_take([(0, KICK, 99), (480, SNARE)]))
