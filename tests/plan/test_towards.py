"""Towards another habit (`habit_from`): its places, and this take's own hits."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_take
from tests.profile.test_profile import ONE, OTHER, habit_take

from evenhand import Recipe, SettingError, Take, read_take, tighten
from evenhand.columns import Floats
from evenhand.ground import prepare
from evenhand.profile import (
    Profile,
    compare_profiles,
    find_profile,
    profile_toml,
)
from evenhand.profile.find import placed_hits
from evenhand.tightener import Result

_GRID = Recipe(grid="1/8")


def _profile(take: Take) -> Profile:
    return find_profile([prepare(take, _GRID)])


@pytest.fixture
def other(tmp_path: Path) -> Profile:
    """The habit to go towards, also in a file."""
    profile = _profile(habit_take(OTHER, 3))
    (tmp_path / "other.habit.toml").write_bytes(profile_toml(profile))
    return profile


def _towards(take: Take, folder: Path, **settings: object) -> Result:
    path = str(folder / "other.habit.toml")
    return tighten(take, _GRID.with_settings({"habit_from": path, "strength": 0.0, **settings}))


def _places(take: Take) -> Floats:
    return _profile(take).ms


def test_a_take_gets_the_habit_and_keeps_its_own_hits(other: Profile, tmp_path: Path) -> None:
    take = habit_take(ONE, 4)
    own = _profile(take)
    result = _towards(take, tmp_path)
    after = _profile(result.take)
    assert compare_profiles(other, own, ("a", "b")).alike < 0
    assert compare_profiles(other, after, ("a", "b")).alike > 0.98
    assert np.abs(after.ms - other.ms).max() < 2.5
    assert after.spread.tolist() == pytest.approx(own.spread.tolist(), abs=1.0)
    before, now = take.hits(), result.take.hits()
    for note in (KICK, SNARE, HAT):
        mine, theirs = before.note == note, now.note == note
        assert before.velocity[mine].tolist() == now.velocity[theirs].tolist()
    # All hits of one place go equally far.
    for note in (KICK, SNARE, HAT):
        mine = result.changes.hits.note == note
        beat = np.round(2 * result.changes.beat[mine]) / 2
        for one in np.unique(beat):
            assert np.ptp(result.changes.shift_ms[mine][beat == one]) <= 1.1


@pytest.mark.parametrize(("habit", "share"), [(50.0, 0.5), (0.0, 0.0)])
def test_so_far_and_no_further(other: Profile, tmp_path: Path, habit: float, share: float) -> None:
    after = _places(_towards(habit_take(ONE, 4), tmp_path, habit=habit).take)
    assert np.abs(after - share * other.ms).max() < 2.5


def test_its_own_habit_moves_nothing(tmp_path: Path) -> None:
    take = habit_take(ONE, 4)
    (tmp_path / "other.habit.toml").write_bytes(profile_toml(_profile(take)))
    assert np.abs(_towards(take, tmp_path).changes.shift_ms).max() < 0.6


def test_each_hit_goes_as_its_own_place_in_the_profile_does(
    takes: list[Path], tmp_path: Path
) -> None:
    # Sixteenths that lie early enough to be nearly 32nds: a profile has them at the sixteenths.
    path = next(one for one in takes if "brazilian-samba_89" in one.name)
    ground = prepare(read_take(path), Recipe())
    own, placed = find_profile([ground]), placed_hits(ground)
    cell = int(np.flatnonzero((own.piece == "snare") & (own.beat == 1.75))[0])
    later = replace(own, ms=own.ms + 20.0 * (np.arange(len(own)) == cell))
    (tmp_path / "later.habit.toml").write_bytes(profile_toml(later))
    settings = {"habit_from": str(tmp_path / "later.habit.toml"), "strength": 0.0}
    result = tighten(ground.source, Recipe().with_settings(settings))
    mine = placed.hit[(placed.piece == "snare") & (placed.beat == 1.75)]
    assert result.plan.habit is not None
    assert result.plan.habit.towards is not None
    way = result.plan.habit.towards.hit[mine]
    assert len(mine) > 40
    assert np.nanmedian(way) == pytest.approx(20, abs=0.01)


def test_a_programmed_part_gets_the_habit_and_no_scatter(other: Profile, tmp_path: Path) -> None:
    machine = habit_take(dict.fromkeys(ONE, 0), spread=0)
    result = _towards(machine, tmp_path, strength=75.0)
    assert result.take.to_bytes() == _towards(machine, tmp_path, strength=75.0).take.to_bytes()
    hits = result.take.hits()
    first = hits.tick[hits.note == KICK]
    assert set((np.diff(first[::2])).tolist()) == {1920}
    assert np.abs(_places(result.take) - other.ms).max() < 2.5


def test_slips_are_told_by_the_own_habit(other: Profile, tmp_path: Path) -> None:
    take = habit_take(ONE, 4)
    slipped = take.hits().tick.copy()
    at = int(np.flatnonzero(take.hits().note == SNARE)[20])
    slipped[at] += 80
    hits = take.hits()
    take = drum_take(
        sorted(zip(slipped.tolist(), hits.note.tolist(), hits.velocity.tolist(), strict=True))
    )
    plain = tighten(take, _GRID)
    leaned = _towards(take, tmp_path, strength=75.0)
    which = plain.changes.reason == "stands out from its habit"
    assert which.sum() == 1
    assert (leaned.changes.reason == "stands out from its habit").tolist() == which.tolist()
    rest = _towards(take, tmp_path).changes.shift_ms
    more = leaned.changes.shift_ms[which] - rest[which]
    assert more == pytest.approx(plain.changes.shift_ms[which], abs=1.1)
    assert set(leaned.changes.reason[~which]) == {"towards the habit asked for"}


def test_a_hold_stays(other: Profile, tmp_path: Path) -> None:
    changes = _towards(habit_take(ONE, 4), tmp_path, hold=("9:1-12:4",)).changes
    inside = (changes.bar >= 9) & (changes.bar <= 11)
    assert (changes.shift_ms[inside] == 0).all()
    assert (np.abs(changes.shift_ms[~inside]) > 5).mean() > 0.9


def test_releases_go_with_their_hits(other: Profile, tmp_path: Path) -> None:
    result = _towards(habit_take(ONE, 4), tmp_path)
    sounding: dict[int, int] = {}
    now, long = 0, []
    for message in result.take.to_mido().tracks[1]:
        now += message.time
        if message.type == "note_on":
            sounding[message.note] = now
        elif message.type == "note_off":
            long.append(now - sounding.pop(message.note))
    assert 25 <= min(long) <= max(long) <= 35
    assert len(long) == 32 * 5


def test_no_hit_passes_one_of_another_limb(other: Profile, tmp_path: Path) -> None:
    """Kick and hat 30 ms apart on one line, and the other habit has them the other way round."""
    played = {(KICK, 1.0): -15, (HAT, 1.0): 15, (SNARE, 3.0): 0}
    turned = {(KICK, 1.0): 20, (HAT, 1.0): -20, (SNARE, 3.0): 0}
    wanted = _profile(habit_take(turned, 5, 2))
    (tmp_path / "other.habit.toml").write_bytes(profile_toml(wanted))
    changes = _towards(habit_take(played, 6, 2), tmp_path).changes
    before, after = changes.hits.ms, changes.ms_after
    far = before[:, None] - before > 20
    assert (after[:, None] - after)[far].min() >= -1.05


def test_habits_that_don_t_fit(other: Profile, tmp_path: Path) -> None:
    waltz = drum_take([(480 * beat, KICK) for beat in range(60)], meter=(3, 4))
    with pytest.raises(SettingError, match="is a habit of 4/4, and test take is in 3/4"):
        _towards(waltz, tmp_path)
    with pytest.raises(SettingError, match="habit_from: the habit is not asked where window"):
        _towards(habit_take(ONE, 4), tmp_path, window=6.0)
    with pytest.raises(SettingError, match=r"habit_from: 'x\.mid' is no habit"):
        Recipe(habit_from="x.mid")


def test_what_two_limbs_strike_together_goes_two_ways(other: Profile, tmp_path: Path) -> None:
    played = {(KICK, 1.0): 0, (SNARE, 1.0): 2, (HAT, 3.0): 0}
    wanted = _profile(habit_take({(KICK, 1.0): -9, (SNARE, 1.0): 9, (HAT, 3.0): 0}, 5, 2))
    (tmp_path / "other.habit.toml").write_bytes(profile_toml(wanted))
    result = _towards(habit_take(played, 6, 2), tmp_path)
    kick, snare = (result.changes.hits.note == note for note in (KICK, SNARE))
    apart = np.median(result.changes.ms_after[snare]) - np.median(result.changes.ms_after[kick])
    assert apart == pytest.approx(18, abs=4)
