"""A take against another player: kick and bass come together, the rest of the take comes along."""

from pathlib import Path

import numpy as np
import pytest
from tests.part.bass import bass, drums

from evenhand import EvenhandError, Recipe, SettingError, Take, tighten
from evenhand.ground import prepare
from evenhand.measure import measure
from evenhand.part import place_part, read_part, sit_together
from evenhand.recipe import read_recipe


def _apart(take: Take, part: Take) -> float:
    """Middle of kick minus bass, ms, measured by hand: each kick's nearest bass note."""
    hits = take.hits()
    kicks = hits.ms[hits.note == 36]
    notes = read_part(part).ms
    nearest = notes[np.abs(kicks[:, None] - notes).argmin(axis=1)]
    return float(np.median(kicks - nearest))


def _recipe(folder: Path, part: Take, **settings: object) -> Recipe:
    part.save(folder / "bass.mid", overwrite=True)
    return Recipe(against=str(folder / "bass.mid"), **settings)


@pytest.mark.parametrize("offset", [-20, -10, -5, 5, 12, 20])
def test_kick_and_bass_come_together(offset: float, tmp_path: Path) -> None:
    chance = np.random.default_rng(100 + offset)
    take, part = drums(chance, lean=-4 * np.sign(offset)), bass(chance, offset)
    assert abs(_apart(take, part)) > 3.5
    result = tighten(take, _recipe(tmp_path, part))
    assert abs(_apart(result.take, part)) <= 3
    # The snare has the beats to itself: its grid is the grid.
    hits, before = result.take.hits(), take.hits()
    snare = hits.note == 38
    assert abs(float(np.median(hits.ms[snare] - before.ms[snare]))) < 5


@pytest.mark.parametrize(("share", "wanted"), [(0, 0), (50, 10), (100, 20)])
def test_between_part_and_grid(share: float, wanted: float, tmp_path: Path) -> None:
    chance = np.random.default_rng(7)
    take, part = drums(chance), bass(chance, 20)
    result = tighten(take, _recipe(tmp_path, part, share=share))
    kick = result.take.hits()
    kick = kick.only(np.flatnonzero(kick.note == 36))
    line = result.take.tempo.to_ms(np.rint(kick.tick / 240) * 240)
    assert float(np.median(kick.ms - line)) == pytest.approx(wanted, abs=3)


def test_strength_0_moves_nothing(tmp_path: Path) -> None:
    chance = np.random.default_rng(8)
    take = drums(chance)
    result = tighten(take, _recipe(tmp_path, bass(chance, 15), strength=0))
    assert result.take.to_bytes() == take.to_bytes()


def test_strokes_say_why_they_moved(tmp_path: Path) -> None:
    chance = np.random.default_rng(9)
    result = tighten(drums(chance), _recipe(tmp_path, bass(chance, 15)))
    changes = result.changes
    with_part = changes.reason == "with the part"
    assert with_part.sum() > 40
    assert set(changes.action[with_part].tolist()) == {"moved"}
    assert set(changes.hits.piece[with_part].tolist()) == {"kick"}
    # A kick that is off by more than the window is named for that.
    assert (changes.reason[changes.hits.piece == "kick"] == "outside the window").any()


def test_the_assessment_agrees(tmp_path: Path) -> None:
    chance = np.random.default_rng(10)
    take, part = drums(chance), bass(chance, -14)
    after = tighten(take, _recipe(tmp_path, part)).take
    sitting = []
    for one in (take, after):
        ground = prepare(one, Recipe())
        together = sit_together(ground, measure(ground), place_part(read_part(part), ground))
        sitting.append(together.pieces["kick"])
    assert sitting[0].ms == pytest.approx(14, abs=3)
    assert sitting[0].leader == "the part"
    assert abs(sitting[1].ms) <= 3


def test_a_recipe_names_its_part_beside_it(tmp_path: Path) -> None:
    chance = np.random.default_rng(11)
    bass(chance, 15).save(tmp_path / "bass.mid")
    (tmp_path / "recipe.toml").write_text('against = "bass.mid:Bass"\nshare = 80\n')
    recipe = read_recipe(tmp_path / "recipe.toml")
    assert recipe.against == f"{tmp_path / 'bass.mid'}:Bass"
    assert (tighten(drums(chance), recipe).changes.reason == "with the part").any()


def test_parts_that_are_of_no_use(tmp_path: Path) -> None:
    take = drums(np.random.default_rng(12), bars=4)
    with pytest.raises(EvenhandError, match=r"none\.mid can't be read"):
        tighten(take, Recipe(against=str(tmp_path / "none.mid")))
    with pytest.raises(SettingError, match=r"against: 'bass\.wav' is no MIDI file"):
        Recipe(against="bass.wav")
    with pytest.raises(SettingError, match="share: 101 is not 0 to 100"):
        Recipe(share=101)
