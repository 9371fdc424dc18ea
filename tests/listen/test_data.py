"""The page's data: complete, and what the installed evenhand accepts."""

import base64
import json
import shlex
import tomllib
from pathlib import Path

import mido
import numpy as np
import pytest
from tests.build import KICK, drum_take, midi_bytes, track

from evenhand import Recipe, Take, read_recipe, read_take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.listen.build import build_page
from evenhand.listen.data import Names, empty_page_data, page_data
from evenhand.listen.pair import compare
from evenhand.listen.recipe_text import defaults_toml, section_tables


@pytest.fixture(scope="module")
def data():
    take = Take.from_bytes(demo_take(), "kettle-weather.mid")
    return page_data(compare(tighten(take)), Names("in/kettle-weather.mid"))


def test_samples_come_back_as_they_were(data) -> None:
    from evenhand.sound.bank import bank_samples

    shots = bank_samples([voice["name"] for voice in data["voices"]])
    for voice in data["voices"]:
        numbers = np.frombuffer(base64.b64decode(voice["pcm"]), "<i2")
        shot = shots[voice["name"]]
        assert voice["rate"] == shot.rate
        assert np.abs(numbers / 32767 * voice["peak"] - shot.signal).max() < 2e-5


def test_flags_stand_at_their_places(data) -> None:
    for flag in data["flags"]:
        bar, beat = flag["place"].split(":")
        # 4/4 at 555,556 microseconds to the beat (108 bpm, as a file can hold it).
        expected = ((int(bar) - 1) * 4 + float(beat) - 1) * 555.556
        assert flag["ms"] == pytest.approx(expected, abs=0.5)


def test_a_page_holds_only_the_voices_it_needs() -> None:
    data = page_data(compare(tighten(drum_take([(0, KICK)]))), Names("a.mid"))
    assert [voice["name"] for voice in data["voices"]] == ["kick"]


def test_command_runs_the_take_again(data) -> None:
    assert data["command"]["recipe_file"] == "kettle-weather-listen.toml"
    words = shlex.split(data["command"]["text"])
    assert words == [
        *("evenhand", "tighten", "in/kettle-weather.mid"),
        *("--recipe", "kettle-weather-listen.toml", "--overwrite"),
    ]


@pytest.mark.parametrize("name", ["a b.mid", "$(rm -rf x).mid", "-o.mid", "'.mid", "a\nb.mid"])
def test_command_survives_a_shell(name: str) -> None:
    shown = compare(tighten(drum_take([(0, KICK)])))
    told = page_data(shown, Names(name, kit="my kit.toml"))["command"]["text"]
    words = shlex.split(told)
    assert words[2] in (name, f"./{name}")
    assert words[-3:] == ["--kit", "my kit.toml", "--overwrite"]


RECIPES = [
    Recipe(),
    Recipe(strength=60, window=9.5, ghost_below=30, anchor=("kick", "tom 1"), channel=10),
    Recipe(grid="1/8T", swing=58.5, latency=-3.25, resolution=960, kit="gm", reach=0),
]


@pytest.mark.parametrize("recipe", RECIPES)
def test_recipe_reads_back(recipe: Recipe, tmp_path: Path) -> None:
    path = tmp_path / "recipe.toml"
    path.write_text(defaults_toml(recipe), encoding="utf-8")
    assert read_recipe(path) == recipe


def test_sections_holds_and_nudges_are_written_by_the_page_itself() -> None:
    recipe = Recipe(
        strength=60,
        section=({"name": 'the "verse"', "bars": "5-20", "strength": 40, "fills": "tight"},),
        hold=("17:4-18:1",),
        nudge=({"at": "36:3", "piece": "kick", "ms": -6},),
    )
    assert defaults_toml(recipe) == "[defaults]\nstrength = 60.0"
    (own,) = section_tables(recipe)
    assert (own["name"], own["bars"]) == ('the "verse"', "5-20")
    table = tomllib.loads("\n".join(f"{name} = {value}" for name, value in own["values"].items()))
    assert table == {"name": 'the "verse"', "bars": "5-20", "strength": 40, "fills": "tight"}


def test_settings_of_a_page_are_settings_of_a_recipe(data) -> None:
    assert set(data["supports"]["defaults"]) <= set(Recipe().settings())
    assert data["supports"]["hold"]


def test_data_can_stand_in_html() -> None:
    page = build_page({"name": "</script><!-- & \u2028 \ud800", "hits": None}).decode()
    start = page.index('id="data">') + len('id="data">')
    body = page[start : page.index("</script>", start)]
    assert not set("<>&\u2028") & set(body)
    assert json.loads(body)["name"] == "</script><!-- & \u2028 \ud800"


def test_page_names_no_address_but_its_libraries_home() -> None:
    page = build_page({"name": "x", "hits": None}).decode()
    assert page.count("<script") == 3
    for part in ("src=", 'href="http', "@import", "url("):
        assert part not in page.replace("link.href", "")


def test_take_without_hits() -> None:
    take = Take.from_bytes(midi_bytes(track([])), "empty.mid")
    assert empty_page_data(take, "x/empty.mid")["hits"] is None


def test_real_takes_are_on_their_pages_whole(takes: list[Path]) -> None:
    for path in takes[::40]:
        data = page_data(compare(tighten(read_take(path))), Names(path.name))
        played = []
        now = 0.0
        for message in mido.MidiFile(path):
            now += message.time * 1000
            if message.type == "note_on" and message.velocity and message.channel == 9:
                played.append(now)
        assert sorted(data["hits"]["before"]) == pytest.approx(sorted(played), abs=0.001)
        assert len(build_page(data)) < 12e6
