"""The full recipe of a run: the same take with it gives the same bytes and the same log."""

import io
import tempfile
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
from hypothesis import given, settings
from tests.build import HAT, KICK, SNARE, drum_take, midi_bytes, track
from tests.lengths import examples
from tests.random_takes import RandomTake, judgement, random_takes

from evenhand import Recipe, Result, SettingError, Take, assess, read_recipe, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.paper.advice import advice_toml
from evenhand.paper.change_log import change_log
from evenhand.paper.settled import settled_recipe, settled_toml


def _again(take: Take, recipe: Recipe) -> Recipe:
    """The recipe that a run gives back, from its file; it must give the same run."""
    first = tighten(take, recipe)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "song.toml"
        path.write_bytes(settled_toml("A run", path, first.ground, recipe))
        written = read_recipe(path)
    second = tighten(take, written)
    assert second.take.to_bytes() == first.take.to_bytes()
    assert change_log(second.changes) == change_log(first.changes)
    return written


def _bars(recipe: Recipe) -> list[tuple[str, str]]:
    return [(one.name, one.bars) for one in recipe.section]


RECIPES: list[dict[str, Any]] = [
    {},
    {"latency": "auto", "lean": 100, "plan": "spans"},
    {"latency": -40.0, "lean_follow": 4, "fills": "tight"},
    {"grid": "1/8T", "sections": "none"},
    {"swing": 58.0, "sections": "markers", "ornaments": "off"},
    {
        "section": [{"name": "verse 1", "lean": 100, "anchor": ["kick"]}, {"bars": "20-40"}],
        "hold": ["57:4.5-57:4.75"],
        "nudge": [{"at": "35:1", "piece": "kick", "ms": -6}],
    },
]


@pytest.mark.parametrize("chosen", RECIPES[:5])
def test_same_take_same_result(chosen: dict[str, Any]) -> None:
    written = _again(Take.from_bytes(demo_take()), Recipe(**chosen))
    if chosen.get("sections") != "none":
        assert _bars(written)[-2:] == [("chorus 2", "50-57"), ("ending", "58")]
        own = {name for one in written.section for name, _ in one.settings}
        assert own == {"grid", "swing"}
    assert not isinstance(written.latency, str)
    assert written.ghost_below == 50


def test_own_settings_holds_and_nudges_are_in_it() -> None:
    # Bars 20 to 40 cut into the verse, so the name must give way.
    with pytest.raises(SettingError, match="overlap"):
        tighten(Take.from_bytes(demo_take()), Recipe(**RECIPES[5]))
    chosen = RECIPES[5] | {"section": [{"name": "verse 1", "lean": 100}, {"bars": "30-40"}]}
    written = _again(Take.from_bytes(demo_take()), Recipe(**chosen))
    assert _bars(written)[2:6] == [
        ("verse 1", "10-25"),
        ("chorus 1", "26-29"),
        ("bars 30-40", "30-40"),
        ("verse 2", "41-45"),
    ]
    assert dict(written.section[2].settings) == {"lean": 100, "grid": "1/16", "swing": 50}
    assert written.hold == ("57:4.5-57:4.75",)
    assert written.nudge == Recipe(**chosen).nudge


def test_real_takes_come_out_the_same(takes: list[Path]) -> None:
    found = []
    for index, path in enumerate(takes[::7]):
        take = Take.from_bytes(path.read_bytes(), path.name)
        found.append(len(_again(take, Recipe(**RECIPES[index % 2])).section))
    assert max(found) > 2


@settings(max_examples=examples(60), deadline=None)
@given(random_takes(), judgement())
def test_random_takes_come_out_the_same(take: RandomTake, chosen: dict[str, Any]) -> None:
    _again(Take.from_bytes(take.to_bytes()), Recipe(**{**chosen, "grid": "auto"}))


def _marked(last: int, *markers: tuple[int, str]) -> Take:
    """Eighths on the hat with kick and snare, so many beats; and markers."""
    events: list[Any] = [(tick, mido.MetaMessage("marker", text=text)) for tick, text in markers]
    for beat in range(last):
        drum = SNARE if beat % 2 else KICK
        for tick, note in ((480 * beat, drum), (480 * beat, HAT), (480 * beat + 240, HAT)):
            off = 25 if beat % 5 == 2 else 0
            message = mido.Message("note_on", channel=9, note=note, velocity=100)
            events.append((tick + off, message))
    return Take.from_bytes(midi_bytes(track(events)))


def test_a_marker_at_the_very_end_is_a_section() -> None:
    # The last event is the marker itself, on the bar line behind bar 8.
    take = _marked(32, (0, "all of it"), (32 * 480, "end"))
    written = _again(take, Recipe())
    assert _bars(written) == [("all of it", "1-8"), ("end", "9")]
    # Without such a marker there is no bar 9.
    with pytest.raises(SettingError, match="bar 9 lies behind the end of the take"):
        tighten(_marked(32), Recipe(section=[{"bars": "9"}]))


def test_the_first_and_the_last_section_go_on_beyond_the_ends() -> None:
    # The last hit, 45 ticks before bar 9 would begin, is early for it: bar 8 has it all the same.
    take = drum_take([(480 * beat, KICK) for beat in range(31)] + [(32 * 480 - 45, SNARE)])
    section = [{"bars": "1-4", "strength": 0}, {"bars": "5-8", "strength": 100, "window": 0}]
    result = tighten(take, Recipe(grid="1/4", sections="none", lean=0, section=section))
    assert len(result.ground.layout.sections) == 2
    assert result.changes.tick_after[-1] == 32 * 480


def test_a_section_that_no_grid_explains_stays_so() -> None:
    notes = [(480 * beat, (KICK, SNARE)[beat % 2]) for beat in range(64)]
    places = np.random.default_rng(1).integers(64 * 480, 128 * 480, 300)
    strewn = [(int(tick), SNARE) for tick in places]
    take = drum_take(sorted(notes + strewn))
    section = [{"name": "strewn", "bars": "17-32"}]
    written = _again(take, Recipe(section=section, sections="none", ornaments="off"))
    own = {one.name: dict(one.settings) for one in written.section}
    assert "grid" not in own["strewn"]
    assert own["all"]["grid"] == "1/16"


def test_kit_file_is_named_as_seen_from_the_recipe(tmp_path: Path) -> None:
    (tmp_path / "kits").mkdir()
    (tmp_path / "songs").mkdir()
    kit, path = tmp_path / "kits" / "mine.toml", tmp_path / "songs" / "song.toml"
    kit.write_text("[notes]\n31 = 'snare'\n")
    take, recipe = Take.from_bytes(demo_take()), Recipe(kit=str(kit))
    path.write_bytes(settled_toml("A run", path, tighten(take, recipe).ground, recipe))
    assert read_recipe(path).kit == str(tmp_path / "songs" / "../kits/mine.toml")
    path.write_bytes(advice_toml(assess(take, recipe), recipe, path))
    assert read_recipe(path).load_kit().pieces([31]).tolist() == ["snare"]


def test_a_title_can_not_break_the_file(tmp_path: Path) -> None:
    take = Take.from_bytes(demo_take(), "odd\nname = 1")
    path = tmp_path / "song.toml"
    path.write_bytes(settled_toml(take.name, path, tighten(take).ground, Recipe()))
    assert path.read_text("utf-8").startswith("# odd\\nname = 1\n\n[defaults]\n")
    assert read_recipe(path).grid == "auto"


def test_advice_goes_section_by_section(tmp_path: Path) -> None:
    take = Take.from_bytes(demo_take())
    recipe, path = Recipe(strength=60), tmp_path / "song.toml"
    view = assess(take, recipe)
    path.write_bytes(advice_toml(view, recipe, path))
    read = read_recipe(path)
    assert [one.name for one in read.section] == [one.label for one in view.sections]
    for one, section in zip(read.section, view.sections, strict=True):
        # What was set is no question any more.
        wanted = {"grid": "1/16", "swing": 50, "window": section.advice.window}
        assert dict(one.settings) == wanted
    assert read.strength == 60
    whole = Recipe(sections="none")
    path.write_bytes(advice_toml(assess(take, whole), whole, path))
    assert (read_recipe(path).grid, read_recipe(path).section) == ("1/16", ())
    assert read_recipe(path).window == assess(take, whole).whole.advice.window


def test_it_can_be_added_to_by_hand(tmp_path: Path) -> None:
    take, path = Take.from_bytes(demo_take()), tmp_path / "song.toml"
    first: Result = tighten(take, Recipe(hold=("57:4-58:1",)))
    path.write_bytes(settled_toml("A run", path, first.ground, first.recipe))
    with path.open("a") as file:
        file.write("\n[[hold]]\nat = '3:1'\n\n[[nudge]]\nat = '35:1'\nms = -6\n")
    read = read_recipe(path)
    assert read.hold == ("57:4-58:1", "3:1")
    assert [one.ms for one in read.nudge] == [-6]
    assert read.section == settled_recipe(first.ground, first.recipe).section
    assert io.StringIO(path.read_text()).readline().startswith("# A run")
