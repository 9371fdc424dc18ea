"""Recipes: checks by name, TOML in both forms."""

import math
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand import DiskError, Recipe, SettingError, read_recipe
from evenhand.grid.lines import GRID_NAMES
from evenhand.kit.pieces import ROLE_OF_PIECE
from evenhand.recipe import Hold, recipe_toml
from evenhand.take.meter import Position


def test_defaults() -> None:
    recipe = Recipe()
    assert recipe.settings() == {
        "grid": "auto",
        "sections": "auto",
        "swing": 50,
        "window": "auto",
        "strength": 75,
        "reach": "auto",
        "together": 20,
        "latency": 0,
        "ghost_below": "auto",
        "anchor": ("kick", "snare", "side stick"),
        "roles": "auto",
        "kit": "ekit",
        "channel": None,
        "hold": (),
        "resolution": None,
        "lean": 100,
        "lean_follow": 0,
        "habit": 100,
        "most": 60,
        "notice": 50,
        "carry": "limbs",
        "for_audio": "off",
        "fills": "loose",
        "fill_landing": "tight",
        "fill": (),
        "groove": (),
        "ornaments": "on",
        "plan": "hits",
        "span_cost": 30,
        "syncopation": "auto",
        "section": (),
        "nudge": (),
        "song": None,
        "song_at": None,
        "against": None,
        "share": 100,
        "habit_from": None,
        "fit": "off",
        "tempo_as_filed": "off",
        "smooth": 1,
        "near": None,
        "meter": None,
        "first_beat": None,
    }
    assert recipe.window_ms is None
    assert recipe.ghost_limit is None


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("song_at", 10**400),
        ("song_at", math.nan),
        ("song_at", math.inf),
        ("grid", "1/12"), ("grid", 16), ("swing", 19.9), ("swing", 80.1), ("swing", float("nan")),
        ("window", -1), ("window", float("nan")), ("window", float("inf")), ("window", "wide"),
        ("window", True), ("strength", 101), ("strength", -1), ("strength", "75"),
        ("strength", float("nan")), ("reach", -1), ("reach", float("inf")), ("reach", 101),
        ("together", -0.1), ("together", float("nan")), ("latency", float("inf")),
        ("latency", float("nan")), ("latency", 10_001), ("ghost_below", 0), ("ghost_below", 129),
        ("ghost_below", 30.5), ("ghost_below", "loud"), ("anchor", []), ("anchor", "kick"),
        ("anchor", ["bucket"]), ("anchor", [3]), ("kit", ""), ("kit", "house"), ("kit", 3),
        ("channel", 0),
        ("channel", 17), ("channel", True), ("hold", ["bar 17"]), ("hold", ["2:1-1:1"]),
        ("hold", "1:1"), ("hold", ["20-17"]), ("hold", ["0-3"]), ("hold", ["17-18:1"]),
        ("hold", ["17-"]), ("strength", 10**400), ("near", 10**400), ("first_beat", 10**400),
        ("hold", [1]), ("hold", ["1:1-"]), ("resolution", 23), ("resolution", 32768),
        ("resolution", 480.0), ("lean", 101), ("lean", float("nan")), ("lean_follow", -1),
        ("fills", "free"), ("fill_landing", "loose"), ("ornaments", "maybe"), ("plan", "both"),
        ("span_cost", -1), ("section", {"bars": "5"}), ("section", ["5-20"]),
        ("section", [{"strength": 60}]), ("section", [{"bars": "20-5"}]),
        ("section", [{"bars": 5}]), ("section", [{"bars": "0-3"}]),
        ("section", [{"name": "verse", "strenght": 60}]), ("section", [{"name": "a", "lean": -1}]),
        ("section", [{"bars": "5-20", "latency": 5}]), ("fit", "on"), ("smooth", 0.1),
        ("near", 35), ("near", float("nan")), ("meter", "3/5"), ("meter", 3), ("meter", "0/4"),
        ("first_beat", float("inf")),
        ("section", [{"bars": "5-20", "fit": "auto"}]), ("nudge", [{"at": "33", "ms": 1}]),
        ("nudge", [{"at": "33:1"}]), ("nudge", [{"ms": 3}]), ("nudge", [{"at": "3:1", "ms": True}]),
        ("nudge", [{"at": "3:1", "ms": 1, "piece": "bucket"}]), ("nudge", ["33:1"]),
        ("nudge", [{"at": "3:1", "ms": 1, "note": 36}]), ("nudge", [{"at": "3:1", "ms": 1e9}]),
    ],
)  # fmt: skip
def test_bad_values_are_refused_by_name(name: str, value: object) -> None:
    with pytest.raises(SettingError, match=name) as caught:
        Recipe().with_settings({name: value})
    assert "\n" not in str(caught.value)


def test_unknown_settings_are_refused_by_name() -> None:
    with pytest.raises(SettingError, match="'strenght'"):
        Recipe().with_settings({"strenght": 5})


def test_values_are_put_in_order() -> None:
    recipe = Recipe(grid=" 1/8t ", anchor=("Kick", "side_stick", "kick"), window=10)
    assert recipe.grid == "1/8T"
    assert recipe.anchor == ("kick", "side stick")
    assert recipe.window_ms == 10.0


def test_holds() -> None:
    recipe = Recipe(hold=("17:4-18:1", "3:2.5", " 17-20", "5"))
    assert recipe.holds == (
        Hold(Position(17, 4), Position(18, 1)),
        Hold(Position(3, 2.5), Position(3, 2.5)),
        Hold(Position(17, 1), Position(20, 1), bars=True),
        Hold(Position(5, 1), Position(5, 1), bars=True),
    )


def test_a_bad_grid_is_told_that_auto_is_one() -> None:
    names = r"1/4, 1/8, .*1/32T, 1/16Q, 1/16S$"
    with pytest.raises(SettingError, match=f"^grid: '1/12' is none of auto, {names}"):
        Recipe(grid="1/12")


def test_no_recipe_breaks_the_reader(tmp_path: Path) -> None:
    path = tmp_path / "song.toml"
    for text in (f"strength = {'9' * 400}", f"swing = {'9' * 5000}", f"a = {'[' * 20_000}"):
        path.write_text(text)
        with pytest.raises(SettingError, match=r"song\.toml"):
            read_recipe(path)


def test_sections_and_nudges(tmp_path: Path) -> None:
    path = tmp_path / "song.toml"
    path.write_text(
        """
[defaults]
strength = 75
[[section]]
name = "verse 1"
bars = "5-20"
strength = 60
anchor = ["kick", "tom-1"]
[[section]]
name = "chorus"
ornaments = false
[[nudge]]
at = "33:1"
piece = "Kick"
ms = -6
"""
    )
    recipe = read_recipe(path)
    verse, chorus = recipe.section
    assert (verse.name, verse.span, verse.label) == ("verse 1", (5, 20), "verse 1")
    assert verse.settings == (("strength", 60.0), ("anchor", ("kick", "tom 1")))
    assert (chorus.span, chorus.settings) == (None, (("ornaments", "off"),))
    assert [(one.place, one.piece, one.ms) for one in recipe.nudge] == [((33, 1.0), "kick", -6)]
    assert recipe.for_section(0).strength == 60
    assert recipe.for_section(-1) == recipe
    # What is written out is read back as the same.
    assert Recipe().with_settings(recipe.settings()) == recipe


@pytest.mark.parametrize(
    "text",
    [
        'strength = 60\nhold = ["17:4-18:1"]\nwindow = 8',
        '[defaults]\nstrength = 60\nwindow = 8.0\n[[hold]]\nat = "17:4-18:1"',
        '[[hold]]\nat = "17:4-18:1"\n[defaults]\nstrength = 60.0\nwindow = 8',
    ],
)
def test_toml_forms(tmp_path: Path, text: str) -> None:
    path = tmp_path / "song.toml"
    path.write_text(text)
    assert read_recipe(path) == Recipe(strength=60, window=8, hold=("17:4-18:1",))


def test_kit_file_lies_beside_the_recipe(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('[notes]\n3 = "kick"')
    path = tmp_path / "song.toml"
    path.write_text('kit = "mine.toml"')
    assert read_recipe(path).load_kit().sounds[3].piece == "kick"


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("strenght = 60", "strenght"),
        ("[defaults]\nstrenght = 60", "strenght"),
        ("strength = 60\n[defaults]\nstrength = 60", "strength stands twice"),
        ("[[hold]]\nfrom = '1:1'", "hold"),
        ("[hold]\nat = '1:1'", "hold"),
        ("defaults = 3", "defaults"),
        ("strength = nan", "strength"),
        ("window = inf", "window"),
        ("strength = ", "not TOML"),
        ("anchor = ['bucket']", "bucket"),
        ("hold = ['x']", "hold"),
        ("kit = 3", "kit"),
    ],
)
def test_bad_files_are_refused_by_name(tmp_path: Path, text: str, names: str) -> None:
    path = tmp_path / "song.toml"
    path.write_text(text)
    with pytest.raises(SettingError, match="song") as caught:
        read_recipe(path)
    assert names in str(caught.value)


def test_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DiskError, match="none"):
        read_recipe(tmp_path / "none.toml")


_RECIPES = st.builds(
    Recipe,
    grid=st.sampled_from(GRID_NAMES),
    swing=st.floats(20, 80),
    window=st.just("auto") | st.floats(0, 1e6),
    strength=st.floats(0, 100),
    reach=st.floats(0, 100),
    together=st.floats(0, 1e6),
    latency=st.floats(-1e4, 1e4),
    ghost_below=st.just("auto") | st.integers(1, 128),
    anchor=st.lists(st.sampled_from(sorted(ROLE_OF_PIECE)), min_size=1),
    kit=st.sampled_from(["gm", "ekit"]),
    channel=st.none() | st.integers(1, 16),
    hold=st.lists(st.sampled_from(["3:1", "17:4-18:1", "1:1.5-2:3.25"])),
    resolution=st.none() | st.integers(24, 32767),
)


@given(_RECIPES)
def test_a_recipe_written_is_the_recipe_read(recipe: Recipe) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "song.toml"
        path.write_text(recipe_toml(recipe), "utf-8")
        assert read_recipe(path) == recipe


def test_a_written_recipe_names_its_kit_file_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "song.toml"
    path.write_text(recipe_toml(Recipe(kit='my "kit" \u00e9.toml')), "utf-8")
    assert read_recipe(path).kit == str(tmp_path / 'my "kit" \u00e9.toml')


def test_anchors_may_be_all_toms_or_be_added() -> None:
    toms = tuple(f"tom {number}" for number in range(1, 7))
    assert Recipe(anchor=["toms"]).anchor == toms
    assert Recipe(anchor=["+Toms"]).anchor == ("kick", "snare", "side stick", *toms)
    assert Recipe(anchor=["+tom-2", "snare"]).anchor == ("kick", "snare", "side stick", "tom 2")
    with pytest.raises(SettingError, match=r"anchor: 'bucket' is not a piece"):
        Recipe(anchor=["+bucket"])


def test_fills_and_grooves_are_stretches(tmp_path: Path) -> None:
    path = tmp_path / "song.toml"
    path.write_text('groove = ["4"]\n[[fill]]\nat = "8:1-8:4"\n[[fill]]\nat = "16"\n')
    recipe = read_recipe(path)
    assert (recipe.fill, recipe.groove) == (("8:1-8:4", "16"), ("4",))
    path.write_text(recipe_toml(recipe))
    assert read_recipe(path) == recipe
    path.write_text('[[groove]]\nfrom = "8:1"\n')
    with pytest.raises(SettingError, match=r"groove: write \[\[groove\]\] with one key"):
        read_recipe(path)


def test_nudges_of_one_hit(tmp_path: Path) -> None:
    path = tmp_path / "song.toml"
    path.write_text(
        "[[nudge]]\nhit = 412\nms = 9\n[[nudge]]\nat = '3:1'\nms = 2\ntogether = true\n"
    )
    recipe = read_recipe(path)
    assert [(one.hit, one.at, one.together) for one in recipe.nudge] == [
        (412, "", False),
        (0, "3:1", True),
    ]
    path.write_text(recipe_toml(recipe))
    assert read_recipe(path) == recipe


@pytest.mark.parametrize(
    ("nudge", "words"),
    [
        ({"hit": 0, "ms": 1}, "hit: 0 is not the number of a hit"),
        ({"hit": True, "ms": 1}, "hit: True is not the number of a hit"),
        ({"hit": 3, "at": "3:1", "ms": 1}, "hit 3: a hit by its number needs no at"),
        ({"hit": 3, "ms": 2000}, "nudge hit 3: ms: 2000 is not -1000 to 1000"),
        ({"at": "3:1", "ms": 1, "together": "yes"}, "together: 'yes' is neither true nor false"),
    ],
)
def test_nudges_that_make_no_sense(nudge: dict[str, object], words: str) -> None:
    with pytest.raises(SettingError, match=words):
        Recipe(nudge=[nudge])
