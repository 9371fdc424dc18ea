"""The habit of an invented groove, and the lines that its hits belong to."""

import numpy as np
import pytest
from tests.build import drum_take

from evenhand import Recipe
from evenhand.ground import Ground, prepare
from evenhand.habit import Belonging, cells, find_lines, find_voices, near_lines

KICK, SNARE, HAT = 36, 38, 42
#: At 120 bpm and 480 ticks to a quarter a ms is 0.96 ticks.
TICKS = 0.96


def groove(bars: int, shifts: dict[tuple[int, float, int], float]) -> Ground:
    """Eighths on the hat, kick on 1 and 3, snare on 2 and 4; some hits shifted (ms)."""
    random = np.random.default_rng(1)
    notes = []
    for bar in range(bars):
        rows = [(beat / 2, HAT) for beat in range(8)]
        rows += [(0, KICK), (1, SNARE), (2, KICK), (3, SNARE)]
        for beat, note in rows:
            off = random.normal(0, 3) + shifts.get((bar, beat, note), 0.0)
            notes.append((round(((bar + 1) * 4 + beat) * 480 + off * TICKS), note, 100))
    return prepare(drum_take(notes), Recipe(grid="1/16", sections="none"))


def belonging(ground: Ground) -> Belonging:
    voice = find_voices(ground.hits)
    return find_lines(near_lines(ground.tick, ground.layout, ground.time), voice)


def at(ground: Ground, bar: int, beat: float, note: int) -> int:
    """The hit meant for a place."""
    away = np.abs(ground.tick - ((bar + 1) * 4 + beat) * 480)
    return int(np.argmin(np.where(ground.hits.note == note, away, np.inf)))


def test_a_late_hit_belongs_to_the_line_that_its_piece_always_strikes() -> None:
    # 70 ms behind beat 3 the next sixteenth (125 ms) is nearer, and nobody strikes it.
    ground = groove(16, {(7, 2, KICK): 70.0})
    found = belonging(ground)
    hit = at(ground, 7, 2, KICK)
    assert found.line[hit] == (8 * 4 + 2) * 480
    assert abs(found.off[hit] - 70) < 10


def test_what_is_done_in_most_bars_is_habit_and_what_is_left_over_is_not() -> None:
    late = {(bar, 2, KICK): 40.0 for bar in range(16) if bar != 5}
    found = belonging(ground := groove(16, late))
    kicks = [at(ground, bar, 2, KICK) for bar in range(16)]
    assert all(abs(found.off[hit]) < 15 for bar, hit in enumerate(kicks) if bar != 5)
    assert found.off[kicks[5]] < -25
    # The other kick has a habit of its own.
    assert abs(found.habit.ms[found.cell[at(ground, 3, 0, KICK)]]) < 5


def test_a_slip_turns_neither_the_habit_nor_the_drift_around_it() -> None:
    ground = groove(16, {(7, 1, SNARE): 50.0})
    found, clean = belonging(ground), belonging(groove(16, {}))
    hit = at(ground, 7, 1, SNARE)
    assert abs(found.off[hit] - clean.off[hit] - 50) < 5


def test_a_drift_of_all_limbs_is_no_ones_slip() -> None:
    hits = [*((beat / 2, HAT) for beat in range(8)), (0, KICK), (1, SNARE), (2, KICK), (3, SNARE)]
    early = {(bar, beat, note): -18.0 for bar in range(6, 10) for beat, note in hits}
    found = belonging(ground := groove(16, early))
    inside = [at(ground, bar, beat, note) for bar in (7, 8) for beat, note in hits]
    assert np.abs(found.off[inside]).max() < 13
    assert np.median(found.drift[inside]) < -10


def test_places_of_a_pattern_of_two_bars_are_told_by_the_bars_nearby() -> None:
    # Every second bar has a kick a sixteenth before beat 4; one of them is 60 ms early, half-way.
    ground = groove(16, {})
    notes = [
        (int(tick), int(note), 100)
        for tick, note in zip(ground.tick, ground.hits.note, strict=True)
    ]
    extra = [((bar + 1) * 4 + 2.75) * 480 - (58 if bar == 8 else 0) for bar in range(0, 16, 2)]
    notes += [(round(tick), KICK, 100) for tick in extra]
    ground = prepare(drum_take(sorted(notes)), Recipe(grid="1/16", sections="none"))
    found = belonging(ground)
    hit = at(ground, 8, 2.75, KICK)
    assert found.line[hit] == (9 * 4 + 2.75) * 480


def test_lines_are_the_same_where_slots_are_numbered(monkeypatch: pytest.MonkeyPatch) -> None:
    ground = groove(16, {(7, 2, KICK): 70.0, (9, 1, SNARE): -40.0})
    found = belonging(ground)
    assert found.cells.slots is None
    monkeypatch.setattr(cells, "_ROOM", 0)
    monkeypatch.setattr(cells, "_ROOM_EACH", 0)
    again = belonging(ground)
    assert again.cells.slots is not None
    assert len(again.cells.slots) == again.cells.ids < found.cells.ids
    assert again.pick.tolist() == found.pick.tolist()
    assert np.array_equal(again.marks, found.marks)
    assert np.array_equal(again.off, found.off)


def test_without_a_push_hits_are_nearer_to_the_same_lines() -> None:
    found = belonging(groove(16, {(7, 1, SNARE): 50.0}))
    ms = np.where(found.bar == 8, 20.0, 0.0)
    known = (found.deviation, found.off, found.lines, found.place)
    other = found.without(ms, found.drift + 1.0)
    assert other.deviation == pytest.approx(known[0] - ms)
    assert other.off == pytest.approx(known[1] - ms - 1)
    assert other.lines is known[2]
    assert other.place is known[3]
    assert found.off is known[1]
