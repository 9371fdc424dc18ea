"""How a bar is described, and what sections are called: worked numbers."""

from math import cos, exp, pi

import numpy as np
import pytest
from tests.build import CRASH, HAT, KICK, SNARE, TOM, Note, drum_take

from evenhand.columns import Floats
from evenhand.ground import prepare
from evenhand.recipe import Recipe
from evenhand.sections import Sections
from evenhand.sections.found import _letter, find_sections, name_alike, patterns_of_bars

_RIDE = 51


def _patterns(notes: list[Note], most: int = 99) -> tuple[int, Floats, int]:
    take = drum_take(notes)
    hits = take.hits()
    first, rows, step = patterns_of_bars(hits.tick.astype(float), hits, take.meter, most)
    return first, rows.reshape(len(rows), 8, 16), step


def _bump() -> list[float]:
    """A bell of 0.6 slots around slot 0 of 16, by its Fourier series; nothing is below 0."""
    turns = range(-7, 9)
    return [
        max(0.0, sum(exp(-2 * (pi * m / 16 * 0.6) ** 2) * cos(2 * pi * m * k / 16) for m in turns))
        / 16
        for k in range(16)
    ]


#: What one hit as loud as can be adds up to.
_HIT = sum(_bump())


def test_a_hit_is_a_bump_of_its_group_in_its_slot() -> None:
    first, rows, step = _patterns([(0, KICK, 127), (960, SNARE, 127)])
    assert (first, step, rows.shape) == (1, 1, (1, 8, 16))
    assert rows[0, 0].tolist() == pytest.approx(_bump(), abs=1e-9)
    assert rows[0, 1].tolist() == pytest.approx(_bump()[8:] + _bump()[:8], abs=1e-9)
    assert rows[0].sum(axis=1).tolist() == pytest.approx([_HIT, _HIT, 0, 0, 0, 0, 0, 0])


@pytest.mark.parametrize(
    ("note", "group", "weight"), [(HAT, 2, 0.5), (_RIDE, 3, 0.5), (CRASH, 4, 0.3), (TOM, 5, 0.5)]
)
def test_groups_have_their_weight_and_cymbals_count_together(
    note: int, group: int, weight: float
) -> None:
    _, rows, _ = _patterns([(0, KICK, 127), (480, note, 127)])
    sums = rows[0].sum(axis=1)
    expected = np.zeros(8)
    expected[[0, group]] = 1, weight
    if note in (HAT, _RIDE):
        expected[7] = 0.5
    assert sums.tolist() == pytest.approx((_HIT * expected).tolist())
    assert int(rows[0, group].argmax()) == 4


def test_loudness_counts_by_its_root_and_a_slot_no_more_than_a_little_above_one() -> None:
    _, rows, _ = _patterns([(0, KICK, 32), (1440, SNARE, 127), (1440, SNARE, 127)])
    kick, snare = rows[0].sum(axis=1)[:2].tolist()
    assert kick == pytest.approx(_HIT * np.sqrt(32 / 127))
    assert snare == pytest.approx(_HIT * 1.2)


def test_an_early_downbeat_counts_for_its_own_bar() -> None:
    # A slot is 120 ticks: what comes up to 58 early is of the next bar.
    _, rows, _ = _patterns([(0, KICK, 127), (1920 - 58, SNARE, 127)])
    assert rows[:, 1].sum(axis=1).tolist() == pytest.approx([0, _HIT])
    _, rows, _ = _patterns([(0, KICK, 127), (1920 - 60, SNARE, 127), (1920, KICK, 127)])
    assert rows[:, 1].sum(axis=1).tolist() == pytest.approx([_HIT, 0])


def test_where_there_are_too_many_bars_some_are_one_row() -> None:
    notes: list[Note] = [(1920 * bar, KICK, 127) for bar in range(9)]
    first, rows, step = _patterns(notes, most=4)
    assert (first, step, len(rows)) == (1, 3, 3)
    assert rows[:, 0].sum(axis=1).tolist() == pytest.approx([3 * _HIT] * 3)


def test_letters_are_counted_like_columns() -> None:
    numbers = (0, 1, 25, 26, 27, 51, 52, 701, 702)
    assert [_letter(one) for one in numbers] == ["A", "B", "Z", "AA", "AB", "AZ", "BA", "ZZ", "AAA"]


def test_sections_are_alike_by_their_patterns_without_a_last_bar_that_fills() -> None:
    one, other, fill = np.array([1.0, 0, 0]), np.array([0.0, 1, 0]), np.array([0.0, 0, 9])
    near = np.array([1.0, 0.48, 0])  # cosine 0.9015 to the first
    far = np.array([1.0, 0.5, 0])  # 0.894
    five = np.array([one] * 4 + [fill])
    sections = [five, np.array([other] * 5), np.array([near] * 5), np.array([far] * 5)]
    assert name_alike(sections) == ("A", "B", "A", "C")
    # In a section of four bars the last counts.
    assert name_alike([np.array([one] * 4), np.array([one] * 3 + [fill])]) == ("A", "B")


def test_the_last_bar_is_the_one_that_is_played_last() -> None:
    # The last release is on a bar line, which opens no bar; a hit on it does.
    for tick, last in ((1920 - 30, 1), (1920 - 29, 2), (1920, 2)):
        take = drum_take([(0, KICK), (tick, SNARE)])
        hits = take.hits()
        found = find_sections(take, hits.tick.astype(float), hits, "none")
        assert (found.last, found.bars) == (last, ((1, last),))


def test_a_count_behind_a_name_is_none_of_its_kind() -> None:
    names = ("verse 2", "verse", "12", "bridge  3", "part2")
    sections = Sections(np.arange(5.0), np.arange(5), 9, 60.0, names, "by hand")
    assert sections.kinds == ("verse", "verse", "12", "bridge", "part2")
    assert sections.labels == names
    again = Sections(np.arange(3.0), np.arange(3), 9, 60.0, ("A", "B", "A"), "by hand")
    assert again.labels == ("A", "B", "A 2")


def test_sections_begin_where_the_pattern_changes() -> None:
    notes: list[Note] = []
    for bar in range(24):
        busy = 8 <= bar < 16
        notes += [(1920 * bar + 240 * step, _RIDE if busy else HAT) for step in range(8)]
        notes += [(1920 * bar, KICK), (1920 * bar + 960, SNARE)]
        notes += [(1920 * bar + 720, KICK), (1920 * bar + 1200, KICK)] if busy else []
    found = prepare(drum_take(sorted(notes)), Recipe(grid="auto")).layout.sections
    assert (found.name, found.bar.tolist()) == (("A", "B", "A"), [1, 9, 17])
