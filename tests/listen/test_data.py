"""The page's data: complete, and what the installed evenhand accepts."""

import base64
import json
import shlex
from pathlib import Path

import mido
import numpy as np
import pytest
from tests.build import KICK, drum_take, midi_bytes, track
from tests.listen.pages import pushed_take

from evenhand import Recipe, Take, read_take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.listen.data import Names, empty_page_data, own_settings, page_data
from evenhand.listen.page_file import build_page
from evenhand.listen.pair import compare
from evenhand.listen.sentence import in_one_sentence


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


def test_command_makes_take_and_page_again_from_any_folder(data) -> None:
    assert data["command"]["recipe_file"] == "kettle-weather.recipe.toml"
    words = shlex.split(data["command"]["text"])
    given = ["kettle-weather.mid", "--recipe", "kettle-weather.recipe.toml", "--overwrite"]
    assert words[:3] == ["cd", str(Path("in").resolve()), "&&"]
    assert words[3:] == ["evenhand", "tighten", *given, "&&", "evenhand", "listen", *given]


@pytest.mark.parametrize("name", ["a b.mid", "$(rm -rf x).mid", "-o.mid", "'.mid", "a\nb.mid"])
def test_command_survives_a_shell(name: str) -> None:
    shown = compare(tighten(drum_take([(0, KICK)])))
    told = page_data(shown, Names(name, kit="my kit.toml"))["command"]["text"]
    words = shlex.split(told)
    assert words[5] in (name, f"./{name}")
    assert words[8:11] == ["--kit", str(Path("my kit.toml").resolve()), "--overwrite"]


def test_settings_that_are_not_the_usual_ones_are_the_pages_own() -> None:
    recipe = Recipe(
        strength=60,
        anchor=("kick", "tom 1"),
        kit="my kit.toml",
        section=({"name": 'the "verse"', "bars": "5-20", "strength": 40, "fills": "tight"},),
        hold=("17:4-18:1",),
        nudge=({"at": "36:3", "piece": "kick", "ms": -6},),
    )
    own = own_settings(recipe)
    assert own["defaults"] == {"strength": 60, "anchor": ["kick", "tom 1"]}
    assert own["holds"] == ["17:4-18:1"]
    assert own["nudges"] == [{"at": "36:3", "piece": "kick", "ms": -6}]
    assert own["sections"] == [
        {"name": 'the "verse"', "bars": "5-20", "strength": 40, "fills": "tight"}
    ]
    assert json.loads(json.dumps(own)) == own


def test_fields_are_the_settings_that_can_be_turned_or_chosen(data) -> None:
    known = Recipe().settings()
    names = [field["name"] for field in data["fields"]]
    assert {"strength", "lean", "window", "grid", "fills"} <= set(names) <= set(known)
    assert not {"kit", "channel", "resolution", "hold", "nudge", "section"} & set(names)
    usual = [field["usual"] for field in data["fields"]]
    assert usual == sorted(usual, reverse=True)


def test_one_sentence_says_what_was_done() -> None:
    assert in_one_sentence(compare(tighten(drum_take([(0, KICK)])))) == "None of 1 hit moved."
    result = tighten(Take.from_bytes(demo_take(), "demo"))
    moved = int((np.abs(result.changes.shift_ms) > 0.0005).sum())
    decided = int((result.changes.action == "moved").sum())
    told = in_one_sentence(compare(result))
    # Nothing was carried along: whatever moved was decided on.
    assert moved == decided
    assert told.startswith(f"{moved} of 888 hits moved: {decided} decided; ")
    largest = np.abs(result.changes.shift_ms).max()
    assert f"the largest {largest:.0f} ms at 39:1; hats " in told


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


def test_a_page_names_the_files_around_its_take(tmp_path: Path) -> None:
    (tmp_path / "song.mid").write_bytes(demo_take())
    recipe = Recipe(song=str(tmp_path / "song.mid"))
    data = page_data(compare(tighten(Take.from_bytes(demo_take()), recipe)), Names("take.mid"))
    assert data["facts"].endswith(", on the map of song.mid")
    # A recipe names files as seen from beside it, and the page's may lie anywhere.
    assert "song" not in data["own"]["defaults"]
    words = shlex.split(data["command"]["text"])
    assert words.count("--song") == 2
    assert words[words.index("--song") + 1] == str((tmp_path / "song.mid").resolve())


def test_bars_that_ran_as_one_are_told() -> None:
    result = tighten(pushed_take())
    data = page_data(compare(result), Names("late.mid"))
    assert result.plan.habit is not None
    assert len(data["pushes"]) == len(result.plan.habit.pushed.first)
    (late,) = [one for one in data["pushes"] if one["ms"] > 20]
    starts = dict(zip(data["beats"]["bar"][::-1], data["beats"]["ms"][::-1], strict=True))
    assert starts[14] < late["from_ms"] < starts[14] + 200
    assert starts[16] - 300 < late["to_ms"] < starts[16] + 100
    # Moved back, by less than it ran.
    assert -late["ms"] < late["shift"] < 0
