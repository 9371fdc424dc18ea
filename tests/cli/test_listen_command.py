"""`evenhand listen` through the real entry point."""

import json
from pathlib import Path

import pytest
from tests.build import HAT, KICK, SNARE, drum_bytes, midi_bytes, track
from typer.testing import CliRunner

from evenhand.cli.app import app

GROOVE = [(480 * beat + 11 * (beat % 3), (KICK, SNARE)[beat % 2]) for beat in range(16)]


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "take.mid"
    path.write_bytes(drum_bytes(GROOVE))
    return path


def run(*words: str | Path, code: int = 0, given: bytes | None = None) -> str:
    done = CliRunner().invoke(app, ["listen", *map(str, words)], input=given)
    assert done.exit_code == code, done.output
    return done.output


def shown(page: Path) -> dict:
    text = page.read_text(encoding="utf-8")
    start = text.index('id="data">') + len('id="data">')
    return json.loads(text[start : text.index("</script>", start)])


def shown_after(take: Path) -> dict:
    run(take, "--overwrite")
    return shown(take.with_name("take-listen.html"))


def test_writes_a_page_beside_the_take(take: Path) -> None:
    told = run(take)
    page = take.with_name("take-listen.html")
    assert "16 hits" in told
    assert len(shown(page)["hits"]["before"]) == 16
    assert take.read_bytes() == drum_bytes(GROOVE)


def test_settings_are_those_of_the_page(take: Path) -> None:
    run(take, "--strength", "60", "--hold", "1:1-1:2", "--window", "3")
    data = shown(take.with_name("take-listen.html"))
    assert data["own"]["defaults"] == {"strength": 60, "window": 3}
    assert data["own"]["holds"] == ["1:1-1:2"]


def test_two_files(take: Path) -> None:
    tight = take.with_name("take-tight.mid")
    done = CliRunner().invoke(app, ["tighten", str(take), "--window", "0"])
    assert done.exit_code == 0
    assert "not what these settings make" in run(take, tight)
    run(take, tight, "--window", "0", "--overwrite")
    data = shown(take.with_name("take-listen.html"))
    assert data["note"] == ""
    assert data["after_name"] == "take-tight.mid"


def test_passes_on_record_are_told(take: Path) -> None:
    assert shown_after(take)["passes"] == []
    for words in (["--window", "3"], ["--strength", "60", "--note", "<b>softer</b>"]):
        done = CliRunner().invoke(app, ["tighten", str(take), *words, "--overwrite"])
        assert done.exit_code == 0, done.output
    first, second = (one["text"] for one in shown_after(take)["passes"])
    assert first.startswith("Pass 1, from the take as played: window 3 (was auto).")
    assert "strength 60 (was 75)" in second
    assert "“<b>softer</b>”" in second
    # Passes of another take of that name are not this one's.
    take.write_bytes(drum_bytes(GROOVE[:-1]))
    assert shown_after(take)["passes"] == []


def test_broken_record_keeps_nobody_from_listening(take: Path) -> None:
    record = take.with_name("take.passes")
    record.mkdir()
    (record / "passes.jsonl").write_text("{not json\n")
    (problem,) = shown_after(take)["passes"]
    assert "passes.jsonl" in problem["text"]


def test_json(take: Path) -> None:
    told = json.loads(run(take, "-o", take.parent, "--json"))
    assert told["hits"] == 16
    assert told["bytes"] == Path(told["output"]).stat().st_size


def test_standard_input(tmp_path: Path) -> None:
    page = tmp_path / "x.html"
    run("-", "-o", page, given=drum_bytes(GROOVE))
    assert len(shown(page)["hits"]["before"]) == 16


def test_same_input_gives_the_same_page(take: Path) -> None:
    run(take, "-o", take.with_name("one.html"))
    run(take, "-o", take.with_name("two.html"))
    assert take.with_name("one.html").read_bytes() == take.with_name("two.html").read_bytes()


def test_take_without_hits(tmp_path: Path) -> None:
    (tmp_path / "empty.mid").write_bytes(midi_bytes(track([])))
    assert "no hits" in run(tmp_path / "empty.mid")
    assert shown(tmp_path / "empty-listen.html")["hits"] is None


def test_refusals(take: Path) -> None:
    other = take.with_name("other.mid")
    other.write_bytes(drum_bytes([(0, HAT)]))
    broken = take.with_name("broken.mid")
    broken.write_bytes(b"MThd")
    endless = take.with_name("endless.mid")
    endless.write_bytes(drum_bytes([(0, KICK), (2**27, KICK)], bpm=4))
    before = sorted(take.parent.iterdir())
    for words, code, told in (
        ([take, other], 1, "not the same take"),
        ([take, "nowhere.mid"], 1, "nowhere.mid"),
        ([broken], 1, "broken.mid"),
        ([endless], 1, "hours long"),
        ([take, "-o", take], 1, "the input itself"),
        ([take, "--samples", "nowhere"], 1, "nowhere"),
        ([take, "--window", "-1"], 2, "--window"),
        (["-", "-"], 2, "only one of the two"),
    ):
        output = run(*words, code=code)
        assert told in output
        assert output.count("\n") == 1
    assert sorted(take.parent.iterdir()) == before


def test_existing_page_is_kept(take: Path) -> None:
    page = take.with_name("take-listen.html")
    page.write_text("mine")
    assert "--overwrite" in run(take, code=1)
    assert page.read_text() == "mine"
