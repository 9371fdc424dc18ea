"""The semantics of DESIGN.md by worked examples: 120 bpm, 480 ticks, so 0.96 ticks per ms.

A sixteenth is 125 ms (120 ticks), the automatic window 12.5 ms (12 ticks), the reach 50 ms
(48 ticks).
"""

import numpy as np
import pytest
from tests.build import (
    CRASH,
    HAT,
    KICK,
    SNARE,
    TICKS_PER_MS,
    Note,
    drum_bytes,
    drum_take,
    plain_recipe,
)

from evenhand import Result, SettingError, Take, tighten


def _run(notes: list[Note], **settings: object) -> Result:
    return tighten(drum_take(notes), plain_recipe(**settings))


def _after(result: Result) -> list[int]:
    return result.changes.tick_after.tolist()


def _told(result: Result) -> list[tuple[str, str]]:
    return list(zip(result.changes.action.tolist(), result.changes.reason.tolist(), strict=True))


def test_inside_the_window_stays() -> None:
    result = _run([(480, KICK), (960 + 12, SNARE)])
    assert _after(result) == [480, 972]
    assert _told(result) == [("kept", "inside the window")] * 2
    assert result.take.to_bytes() == result.before.to_bytes()


def test_outside_moves_by_strength() -> None:
    # 24 ticks are 25 ms late; 75 % of it is 18 ticks.
    result = _run([(480, KICK), (960 + 24, SNARE), (1440, KICK)])
    assert _after(result) == [480, 966, 1440]
    assert result.changes.shift_ms.tolist() == pytest.approx([0, -18.75, 0])
    assert result.changes.deviation_before.tolist() == pytest.approx([0, 25, 0])
    assert result.changes.deviation_after.tolist() == pytest.approx([0, 6.25, 0])
    assert _told(result)[1] == ("moved", "outside the window")


def test_full_strength_reaches_the_line() -> None:
    assert _after(_run([(480, KICK), (984, SNARE)], strength=100)) == [480, 960]


def test_what_lies_between_is_carried_in_proportion() -> None:
    # The snare moves 24 ticks; hats a third and two thirds of the way move 8 and 16.
    notes: list[Note] = [(480, KICK), (480 + 168, HAT), (480 + 336, HAT), (984, SNARE)]
    result = _run(notes, strength=100)
    assert _after(result) == [480, 640, 800, 960]
    assert _told(result)[1] == ("carried", "between anchors")


def test_outside_the_anchors_the_shift_is_constant() -> None:
    result = _run([(100, HAT), (504, KICK), (984, SNARE), (1100, HAT)], strength=100)
    assert _after(result) == [76, 480, 960, 1076]
    assert _told(result)[0] == ("carried", "before the first anchor")
    assert _told(result)[3] == ("carried", "after the last anchor")


def test_releases_move_with_the_rest() -> None:
    result = _run([(504, KICK), (984, SNARE)], strength=100)
    ticks = result.take.smf.tracks[1].tick.tolist()
    # The end of the track is no drum event: it stays.
    assert ticks == [480, 510, 960, 990, 1014]


def test_stroke_moves_as_one() -> None:
    # Kick and snare 10 ticks apart, the snare is louder: it is the reference, 24 ticks late.
    result = _run([(480, KICK), (974, KICK, 80), (984, SNARE, 100)], strength=100)
    assert _after(result) == [480, 950, 960]
    assert _told(result)[1] == ("moved", "with its stroke")
    assert result.changes.line.tolist() == [480, 960, 960]


def test_off_the_grid_anchors_nothing() -> None:
    # 49 ticks are 51 ms: beyond 40 % of the gap of 125 ms.
    result = _run([(480, KICK), (960 + 49, SNARE), (1440, KICK)])
    assert _told(result)[1] == ("carried", "off the grid")
    assert np.isnan(result.changes.line[1])
    assert _told(_run([(480, KICK), (960 + 48, SNARE)]))[1] == ("moved", "outside the window")


def test_nearer_stroke_keeps_the_line() -> None:
    # Two kicks on line 960: 30 ticks early and 10 late; the late one is nearer.
    result = _run([(480, KICK), (930, KICK), (970, KICK), (1440, KICK)])
    assert _told(result)[1] == ("carried", "line taken by a nearer stroke")
    assert _told(result)[2] == ("kept", "inside the window")


def test_of_equally_near_strokes_the_earliest_keeps_the_line() -> None:
    result = _run([(930, KICK), (990, KICK)])
    assert [told[0] for told in _told(result)] == ["moved", "carried"]


def test_window_in_ms() -> None:
    notes: list[Note] = [(480, KICK), (984, SNARE)]
    assert _told(_run(notes, window=25.0))[1] == ("kept", "inside the window")
    assert _told(_run(notes, window=24.9))[1] == ("moved", "outside the window")


def test_automatic_window_follows_the_beat() -> None:
    # Friberg & Sundberg 1995: 2.5 % of the beat, at least 6 ms. 60 bpm: 25 ms; 300 bpm: 6 ms.
    for bpm, window in ((60, 25.0), (120, 12.5), (300, 6.0)):
        result = tighten(drum_take([(480, KICK)], bpm=bpm), plain_recipe())
        assert result.plan.admissible.half.tolist() == pytest.approx([window])
    # The beat is that of the meter: an eighth in 6/8.
    result = tighten(drum_take([(480, KICK)], bpm=60, meter=(6, 8)), plain_recipe())
    assert result.plan.admissible.half.tolist() == pytest.approx([12.5])


def test_ghosts_and_hats_are_no_anchors() -> None:
    result = _run([(480, KICK), (1000, SNARE, 20), (1100, HAT), (1440, KICK)], ghost_below=40)
    assert [told[0] for told in _told(result)] == ["kept", "carried", "carried", "kept"]


def test_latency_is_taken_out_first() -> None:
    # Everything is 25 ms (24 ticks) late; with the latency out, nothing needs to move.
    result = _run([(504, KICK), (600, HAT), (984, SNARE)], latency=25)
    assert _after(result) == [480, 576, 960]
    assert [told[0] for told in _told(result)] == ["kept", "carried", "kept"]
    assert result.changes.deviation_before.tolist()[::2] == pytest.approx([0, 0])
    assert result.changes.shift_ms.tolist() == pytest.approx([-25] * 3)


def test_nothing_moves_before_the_start() -> None:
    # The kick moves from 24 to 0; a hat 5 ticks into the file can go no further than 0.
    result = _run([(5, HAT), (24, KICK), (480, SNARE)], strength=100)
    assert _after(result) == [0, 0, 480]
    assert _told(result)[0] == ("carried", "limited at the start of the file")
    assert [flag.kind for flag in result.flags] == ["start"]


def test_hold_keeps_every_hit() -> None:
    notes: list[Note] = [(504, KICK), (984, SNARE), (1000, HAT), (1200, HAT), (1464, KICK)]
    result = _run(notes, strength=100, hold=("1:3-1:3.5",))
    assert _after(result) == [480, 984, 1000, 1200, 1440]
    assert [told[0] for told in _told(result)] == ["moved", "held", "held", "held", "moved"]
    assert result.changes.line.tolist()[1] == 960


def test_stroke_is_held_by_the_name_of_its_line() -> None:
    # An early downbeat of bar 2 is 2:1, though it sounds in bar 1.
    result = _run([(480, KICK), (1890, KICK)], hold=("2:1",))
    assert _told(result)[1] == ("held", "in a hold")


def test_edges_of_a_hold_are_knots() -> None:
    # Only the hat at 720 is held; the kick behind moves back by 24, and what lies between the two
    # is carried in proportion: a hat half-way by 12.
    notes: list[Note] = [(480, KICK), (720, HAT), (852, HAT), (984, KICK)]
    assert _after(_run(notes, strength=100, hold=("1:2.5",))) == [480, 720, 840, 960]


def test_squeeze_guard_halves_a_gap_at_most() -> None:
    # On a 1/32 grid lines are 60 apart. Kicks at 38 and 82 stand 22 off the lines 60 and 60 ...
    # on lines 0 and 120 of a 1/16 grid they would part: 40 and 80 → 0 and 120, a gap of 40 → 120.
    result = _run([(40, KICK), (80, KICK)], strength=100, reach=50)
    # At most twice the gap: 80. Both shifts are equal, so both are reduced: 20 and 100.
    assert _after(result) == [20, 100]
    assert {flag.kind for flag in result.noted} >= {"squeezed"}
    assert _told(result)[0] == ("moved", "outside the window but limited by a neighbour")


def test_off_beats_are_held_by_their_neighbours() -> None:
    # The same take with and without its hats: the anchors do not care.
    anchors: list[Note] = [(470, KICK), (990, SNARE), (1400, KICK)]
    with_hats = _run([*anchors, (700, HAT), (1200, HAT)])
    kicks = [tick for tick, note in zip(_after(with_hats), with_hats.changes.hits.note, strict=True)
             if note != HAT]  # fmt: skip
    assert kicks == _after(_run(anchors))


def test_other_anchors() -> None:
    result = _run([(480, HAT), (984, HAT), (1000, KICK)], anchor=("hat",), strength=100)
    assert [told[0] for told in _told(result)] == ["kept", "moved", "carried"]


def test_take_without_anchors_is_left_alone() -> None:
    result = _run([(100, HAT), (200, CRASH)])
    assert result.take.to_bytes() == result.before.to_bytes()
    assert _told(result)[0] == ("carried", "no anchors in the take")
    assert result.figures.tightness["all"].hits == 0


def test_strength_zero_moves_nothing() -> None:
    result = _run([(504, KICK), (984, SNARE)], strength=0)
    assert result.take.to_bytes() == result.before.to_bytes()
    assert _told(result)[0] == ("kept", "outside the window but strength is 0")


def test_finer_resolution_keeps_times_and_rounds_less() -> None:
    result = _run([(480, KICK), (985, SNARE)], resolution=4800)
    assert result.take.division == 4800
    # 25 ticks late, 75 % away: 966.25 of the old ticks, 9662.5 (to even) of the new.
    assert _after(result) == [4800, 9662]
    assert result.changes.ms_after[1] == pytest.approx(9662 / 9.6)


def test_other_channels_stay() -> None:
    data = drum_bytes([(504, KICK), (984, SNARE)], channel=3)
    take = Take.from_bytes(data)
    assert _after(tighten(take, plain_recipe(strength=100))) == [480, 960]
    with pytest.raises(Exception, match="no notes on channel 10"):
        tighten(take, plain_recipe(channel=10))


@pytest.mark.parametrize("hold", ["2", "2-2", " 2 - 2 "])
def test_hold_of_whole_bars_goes_by_early_downbeats(hold: str) -> None:
    # Bar 2 goes from 1920 to 3840; a 32nd note is 60 ticks. Every hit is 40 ticks early.
    notes: list[Note] = [(tick - 40, KICK) for tick in (960, 1920, 2880, 3840, 4800)]
    told = [action for action, _ in _told(_run(notes, hold=(hold,)))]
    assert told == ["moved", "held", "held", "moved", "moved"]


def test_hold_of_whole_bars_is_as_long_as_the_bars() -> None:
    notes: list[Note] = [(1920 * bar + 500, KICK) for bar in range(6)]
    told = [action for action, _ in _told(_run(notes, hold=("2-4",)))]
    assert told == ["moved", "held", "held", "held", "moved", "moved"]


def test_hold_outside_the_take_is_refused() -> None:
    with pytest.raises(SettingError, match="hold: 9:1 lies behind the end"):
        _run([(480, KICK)], hold=("9-12",))
    with pytest.raises(SettingError, match="hold: 9:1 lies behind the end"):
        _run([(480, KICK)], hold=("9:1-9:2",))
    with pytest.raises(SettingError, match="bar 1 has 4 beats"):
        _run([(480, KICK)], hold=("1:5",))


def test_take_is_not_changed() -> None:
    take = drum_take([(504, KICK), (984, SNARE)])
    before = take.to_bytes()
    tighten(take, plain_recipe(strength=100))
    assert take.to_bytes() == before


def test_ticks_per_ms_of_these_examples() -> None:
    assert drum_take([(480, KICK)]).tempo.to_ms(960) == pytest.approx(960 / TICKS_PER_MS)
