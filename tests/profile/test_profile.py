"""Habits: found as planted, written and read again, compared."""

import tomllib

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_take, plain_recipe

from evenhand import MidiFileError, SettingError, Take
from evenhand.errors import EvenhandError
from evenhand.ground import Ground, prepare
from evenhand.profile import (
    compare_profiles,
    find_profile,
    parse_profile,
    profile_toml,
    read_profile,
)

#: Where each piece lies at each beat of the bar, ms: two drummers.
ONE = {(KICK, 1.0): -8, (KICK, 3.5): 14, (SNARE, 2.0): 12, (SNARE, 4.0): 3, (HAT, 1.5): -15}
OTHER = {(KICK, 1.0): 6, (KICK, 3.5): -12, (SNARE, 2.0): -4, (SNARE, 4.0): 18, (HAT, 1.5): 9}


def habit_take(habit: dict, seed: int = 1, spread: float = 4, bars: int = 32) -> Take:
    chance = np.random.default_rng(seed)
    notes = []
    for bar in range(1, bars + 1):
        for (note, beat), ms in habit.items():
            off = ms + (chance.normal(0, spread) if spread else 0)
            notes.append((round((bar * 4 + beat - 1) * 480 + off * 0.96), note, 60 + bar % 40))
    return drum_take(notes)


def _ground(take: Take) -> Ground:
    return prepare(take, plain_recipe(grid="1/8"))


def test_what_was_planted_is_found() -> None:
    profile = find_profile([_ground(habit_take(ONE))])
    names = {"kick": KICK, "snare": SNARE, "hat": HAT}
    assert len(profile) == len(ONE)
    for piece, beat, ms, spread, count in zip(
        profile.piece, profile.beat, profile.ms, profile.spread, profile.count, strict=True
    ):
        # Drawn by 3 hits of 35 towards the piece.
        assert ms == pytest.approx(ONE[names[piece], beat], abs=3.5)
        assert spread == pytest.approx(4, abs=3)
        assert count == 32
    assert profile.meter == "4/4"
    assert profile.bpm == pytest.approx((120, 120))


def test_takes_add_up() -> None:
    both = find_profile([_ground(habit_take(ONE, 1)), _ground(habit_take(ONE, 2))])
    assert set(both.count.tolist()) == {64}
    assert both.takes == ("test take", "test take")


def test_written_and_read_again(tmp_path) -> None:
    profile = find_profile([_ground(habit_take(ONE))])
    (tmp_path / "x.toml").write_bytes(profile_toml(profile))
    again = read_profile(tmp_path / "x.toml")
    assert again.piece.tolist() == profile.piece.tolist()
    assert again.beat.tolist() == pytest.approx(profile.beat.tolist(), abs=1e-4)
    assert again.ms.tolist() == pytest.approx(profile.ms.tolist(), abs=0.006)
    assert again.count.tolist() == profile.count.tolist()
    assert again.whole == pytest.approx(profile.whole, abs=0.006)


def test_habits_that_can_t_be_compared() -> None:
    waltz = drum_take([(480 * beat, KICK) for beat in range(60)], meter=(3, 4))
    one, other = find_profile([_ground(habit_take(ONE))]), find_profile([_ground(waltz)])
    with pytest.raises(SettingError, match="a is a habit of 4/4 and b of 3/4"):
        compare_profiles(one, other, ("a", "b"))
    with pytest.raises(MidiFileError, match="is in 3/4 and test take in 4/4"):
        find_profile([_ground(habit_take(ONE)), _ground(waltz)])
    with pytest.raises(MidiFileError, match="only 3 hits lie on lines"):
        find_profile([_ground(drum_take([(0, KICK), (480, KICK), (960, KICK)]))])


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("schema = 1", "schema = 2", "no habit file of this version"),
        ('meter = "4/4"', 'meter = "4/5"', "meter: '4/5'"),
        ("swing = 50.0", "swing = 95.0", "swing: 95.0 is not a number from 20 to 80"),
        ("beat = 1.0000", "beat = nan", "kick: beat: nan is not"),
        ("swing = 50.0", "swing = 1" + 400 * "0", "swing: 10+ is not a number from 20 to 80"),
        ("ms = ", 'ms = "x"  #', "is not a number"),
        ("beat = 3.5000", "beat = 1.0000", "a place stands twice"),
        ("name = ", "title = ", "piece: give it a name"),
    ],
)
def test_habit_files_that_make_no_sense(old: str, new: str, message: str) -> None:
    text = profile_toml(find_profile([_ground(habit_take(ONE))])).decode()
    assert old in text
    broken = text.replace(old, new, 1)
    try:
        table = tomllib.loads(broken)
    except tomllib.TOMLDecodeError:
        table = {"schema": 1, "meter": "4/4", "bpm": [1, 1], "swing": 50, "ms": "x", "piece": []}
        message = "there is not one place in it"
    with pytest.raises(EvenhandError, match=message):
        parse_profile(table)


_PLACE = {"beat": 1.0, "ms": -4.0, "spread": 3.0, "count": 9}


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("takes", "one", "takes: write a list of names"),
        ("takes", [1], "takes: write a list of names"),
        ("bpm", 96, "bpm: write the slowest and the fastest"),
        ("bpm", [96], "bpm: write the slowest and the fastest"),
        ("piece", {}, "write tables, \\[\\[piece\\]\\]"),
        ("piece", [{"name": "kick", "places": 3}], "kick: write places = "),
        ("piece", [{"name": "kick", "places": [3]}], "kick: a place is a table"),
        ("piece", [{"name": "kick", "places": [{**_PLACE, "count": 0}]}], "kick: count: 0 is not"),
        ("piece", [{"name": "kick", "places": [{**_PLACE, "ms": True}]}], "kick: ms: True is not"),
    ],
)
def test_tables_that_make_no_sense(key: str, value: object, message: str) -> None:
    table = {
        "schema": 1,
        "meter": "4/4",
        "bpm": [96, 104],
        "swing": 50.0,
        "ms": 0.0,
        "piece": [{"name": "kick", "places": [_PLACE]}],
    }
    assert parse_profile(table).ms.tolist() == [-4.0]
    with pytest.raises(SettingError, match=message):
        parse_profile({**table, key: value})


def test_a_file_that_makes_no_sense_is_named(tmp_path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("schema = 7\n")
    with pytest.raises(SettingError, match=r"mine\.toml: this is no habit file"):
        read_profile(path)


def test_habits_with_little_in_common() -> None:
    both = {(KICK, 1.0): -8, (KICK, 3.5): 14}
    one, other = (find_profile([_ground(habit_take(each))]) for each in (both, OTHER))
    # Two places tell nothing of likeness.
    assert np.isnan(compare_profiles(one, other, ("a", "b")).alike)
    apart = find_profile([_ground(habit_take({(SNARE, 2.5): 3, (SNARE, 4.5): 1}))])
    with pytest.raises(SettingError, match="a and b have no piece at one place in common"):
        compare_profiles(one, apart, ("a", "b"))
