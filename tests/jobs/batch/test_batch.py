"""A batch: what it writes, what it leaves alone, and that nothing but the takes decides it."""

import csv
import json
import os
from pathlib import Path

import pytest
from tests.jobs.batch.few import Here, run, small_take, some_takes, tree

from evenhand import Recipe, read_take, tighten
from evenhand.errors import DiskError
from evenhand.jobs.batch import one
from evenhand.jobs.batch.order import AS_BEFORE, DONE, FAILED
from evenhand.paper.change_log import change_log


@pytest.fixture
def takes(tmp_path: Path) -> Path:
    return some_takes(tmp_path / "in")


def _states(outcomes: list) -> dict[str, int]:
    states = [outcome.state for outcome in outcomes]
    return {state: states.count(state) for state in set(states)}


def _rows(output: Path) -> list[dict[str, str]]:
    with (output / "batch.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_each_take_is_what_tighten_makes_of_it(takes: Path, tmp_path: Path) -> None:
    recipe = Recipe(strength=60)
    run(takes, tmp_path / "out", recipe=recipe)
    for path in takes.rglob("*.mid"):
        result = tighten(read_take(path), recipe)
        made = tmp_path / "out" / path.relative_to(takes)
        assert made.with_name(f"{made.stem}-tight.mid").read_bytes() == result.take.to_bytes()
        log = made.with_name(f"{made.stem}-tight.changes.csv").read_bytes()
        assert log == change_log(result.changes)
        about = json.loads(made.with_name(f"{made.stem}-tight.record.json").read_bytes())
        told, tight = about["figures"]["tightness"]["all"], result.figures.tightness["all"]
        assert told["spread_before"] == pytest.approx(tight.spread_before, abs=1e-6)
        assert told["mean_after"] == pytest.approx(tight.mean_after, abs=1e-6)


def test_takes_are_not_touched(takes: Path, tmp_path: Path) -> None:
    before = tree(takes)
    run(takes, tmp_path / "out")
    assert tree(takes) == before


def test_the_tables_tell_what_the_records_tell(takes: Path, tmp_path: Path) -> None:
    (takes / "bad.mid").write_bytes(b"no take")
    run(takes, tmp_path / "out")
    rows = _rows(tmp_path / "out")
    assert [row["take"] for row in rows] == sorted(row["take"] for row in rows)
    assert len(rows) == 7
    for row in rows:
        if row["take"] == "bad.mid":
            assert (row["state"], row["hits"]) == ("failed", "")
            assert row["reason"].startswith("this is not a Standard MIDI File")
            continue
        about = json.loads((tmp_path / "out" / row["record"]).read_bytes())
        changes = (tmp_path / "out" / row["changes"]).read_text().splitlines()[1:]
        assert int(row["hits"]) == len(changes) == about["figures"]["hits"]
        moved = sum(line.split(",")[17] == "moved" for line in changes)
        assert int(row["moved"]) == moved
        assert int(row["flags"]) == len(about["flags"])
        assert float(row["spread_before_ms"]) == pytest.approx(
            about["figures"]["tightness"]["all"]["spread_before"], abs=0.0005
        )
        assert (tmp_path / "out" / row["tightened"]).is_file()


@pytest.mark.parametrize("executor", [Here(backwards=True), Here(shares_disk=False)])
def test_neither_order_nor_the_executor_decides(
    takes: Path, tmp_path: Path, executor: Here
) -> None:
    (takes / "bad.mid").write_bytes(b"no take")
    run(takes, tmp_path / "one")
    run(takes, tmp_path / "other", executor)
    assert tree(tmp_path / "one") == tree(tmp_path / "other")


def test_where_the_takes_lie_does_not_decide(takes: Path, tmp_path: Path) -> None:
    run(takes, tmp_path / "one")
    takes.rename(tmp_path / "elsewhere")
    run(tmp_path / "elsewhere", tmp_path / "other")
    assert tree(tmp_path / "one") == tree(tmp_path / "other")


@pytest.mark.parametrize("shares_disk", [True, False])
def test_what_is_done_is_not_done_again(
    takes: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shares_disk: bool
) -> None:
    executor = Here(shares_disk)
    assert _states(run(takes, tmp_path / "out", executor)) == {DONE: 6}
    whole = tree(tmp_path / "out")
    monkeypatch.setattr(one, "tighten", None)
    for path in takes.rglob("*.mid"):
        os.utime(path, (0, 0))
    assert _states(run(takes, tmp_path / "out", executor)) == {AS_BEFORE: 6}
    assert tree(tmp_path / "out") == whole


def test_redo_does_it_again(takes: Path, tmp_path: Path) -> None:
    run(takes, tmp_path / "out")
    whole = tree(tmp_path / "out")
    assert _states(run(takes, tmp_path / "out", redo=True)) == {DONE: 6}
    assert tree(tmp_path / "out") == whole


def test_another_recipe_take_or_version_is_another_result(
    takes: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    run(takes, out)
    assert _states(run(takes, out, recipe=Recipe(strength=40))) == {DONE: 6}
    assert _states(run(takes, out, recipe=Recipe(strength=40))) == {AS_BEFORE: 6}
    (takes / "take-2.mid").write_bytes(small_take(99))
    assert _states(run(takes, out, recipe=Recipe(strength=40))) == {DONE: 1, AS_BEFORE: 5}
    for about in out.rglob("*.record.json"):
        about.write_text(about.read_text().replace('"version": "', '"version": "0.0.'))
    assert _states(run(takes, out, recipe=Recipe(strength=40))) == {DONE: 6}
    run(takes, tmp_path / "fresh", recipe=Recipe(strength=40))
    assert tree(out) == tree(tmp_path / "fresh")


def test_a_file_that_was_lost_is_made_again(takes: Path, tmp_path: Path) -> None:
    run(takes, tmp_path / "out")
    whole = tree(tmp_path / "out")
    (tmp_path / "out" / "take-2-tight.changes.csv").unlink()
    (tmp_path / "out" / "take-5-tight.record.json").write_text("{}")
    assert _states(run(takes, tmp_path / "out", overwrite=True)) == {DONE: 2, AS_BEFORE: 4}
    assert tree(tmp_path / "out") == whole


def test_what_a_person_changed_is_not_replaced_unasked(takes: Path, tmp_path: Path) -> None:
    run(takes, tmp_path / "out")
    edited = tmp_path / "out" / "take-2-tight.mid"
    edited.write_bytes(b"by hand")
    assert _states(run(takes, tmp_path / "out")) == {AS_BEFORE: 5, FAILED: 1}
    outcomes = run(takes, tmp_path / "out", recipe=Recipe(strength=40))
    assert _states(outcomes) == {DONE: 5, FAILED: 1}
    reason = _rows(tmp_path / "out")[2]["reason"]
    assert "was changed since it was written" in reason
    assert "--overwrite" in reason
    assert edited.read_bytes() == b"by hand"
    run(takes, tmp_path / "out", recipe=Recipe(strength=40), overwrite=True)
    assert edited.read_bytes() != b"by hand"


def test_what_lies_in_the_way_is_not_replaced_unasked(takes: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "take-2-tight.changes.csv").write_text("mine")
    assert _states(run(takes, tmp_path / "out")) == {DONE: 5, FAILED: 1}
    assert (tmp_path / "out" / "take-2-tight.changes.csv").read_text() == "mine"
    assert not (tmp_path / "out" / "take-2-tight.mid").exists()
    assert _states(run(takes, tmp_path / "out", overwrite=True)) == {DONE: 1, AS_BEFORE: 5}


def test_a_take_may_have_its_own_recipe(takes: Path, tmp_path: Path) -> None:
    (takes / "take-2.recipe.toml").write_text("strength = 20\nlean = 0\n")
    run(takes, tmp_path / "out", recipe=Recipe(strength=90), given={"lean": 10.0})
    recipes = {
        path.name: json.loads(path.read_bytes())["recipe"]
        for path in (tmp_path / "out").rglob("*.record.json")
    }
    own = recipes.pop("take-2-tight.record.json")
    assert (own["strength"], own["lean"]) == (20, 10)
    assert {one["strength"] for one in recipes.values()} == {90}


def test_a_bad_recipe_fails_its_take_alone(takes: Path, tmp_path: Path) -> None:
    (takes / "take-2.recipe.toml").write_text("strenght = 20\n")
    assert _states(run(takes, tmp_path / "out")) == {DONE: 5, FAILED: 1}
    assert "unknown setting 'strenght'" in _rows(tmp_path / "out")[2]["reason"]


@pytest.mark.parametrize("shares_disk", [True, False])
def test_a_kit_file_travels_along(takes: Path, tmp_path: Path, shares_disk: bool) -> None:
    kit = tmp_path / "my kit.toml"
    kit.write_text('[notes]\n36 = "snare"\n38 = "kick"\n')
    recipe = Recipe(kit=str(kit))
    run(takes, tmp_path / "out", Here(shares_disk), recipe=recipe)
    about = json.loads((tmp_path / "out" / "take-2-tight.record.json").read_bytes())
    assert about["recipe"]["kit"] == "my kit.toml"
    midi = tighten(read_take(takes / "take-2.mid"), recipe).take.to_bytes()
    assert (tmp_path / "out" / "take-2-tight.mid").read_bytes() == midi
    kit.write_text('[notes]\n36 = "kick"\n')
    assert _states(run(takes, tmp_path / "out", recipe=recipe)) == {DONE: 6}


def test_a_fit_is_told_in_the_record(takes: Path, tmp_path: Path) -> None:
    run(takes, tmp_path / "out", recipe=Recipe(fit="steady"))
    about = json.loads((tmp_path / "out" / "take-2-tight.record.json").read_bytes())
    assert about["fit"]["bpm"] == pytest.approx(120, rel=0.01)
    guide = (Path(__file__).parents[3] / "docs" / "many-takes.md").read_text(encoding="utf-8")
    assert [key for key in (*about, *_rows(tmp_path / "out")[0]) if f"`{key}`" not in guide] == []


def test_names_of_all_kinds(tmp_path: Path) -> None:
    names = ["<b>&\"'.mid", "läuft.mid", "new\nline.mid", "100%#?.mid", os.fsdecode(b"\xff.mid")]
    for name in names:
        (tmp_path / name).write_bytes(small_take(1))
    outcomes = run(tmp_path, tmp_path / "out")
    assert _states(outcomes) == {DONE: 5}
    assert _states(run(tmp_path, tmp_path / "out")) == {AS_BEFORE: 5}
    page = (tmp_path / "out" / "batch.html").read_text(encoding="utf-8")
    assert "<b>" not in page
    assert "&lt;b&gt;&amp;&#34;&#39;.mid" in page
    assert 'href="%3Cb%3E%26%22%27-tight.mid"' in page
    assert 'href="%FF-tight.mid"' in page
    assert len(_rows(tmp_path / "out")) == 5


def test_two_at_a_time_in_one_folder_are_one_too_many(takes: Path, tmp_path: Path) -> None:
    class Nested(Here):
        def run(self, function, items):
            with pytest.raises(DiskError, match="another evenhand is at work in"):
                run(takes, tmp_path / "out")
            yield from super().run(function, items)

    assert _states(run(takes, tmp_path / "out", Nested())) == {DONE: 6}


@pytest.mark.parametrize("name", ["batch.csv", "batch.html"])
def test_a_table_of_somebody_else_is_not_replaced_unasked(
    takes: Path, tmp_path: Path, name: str
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / name).write_text("mine")
    with pytest.raises(DiskError, match="is there and not the table of a batch"):
        run(takes, out)
    assert tree(out) == {name: b"mine"}
    run(takes, out, overwrite=True)
    assert _states(run(takes, out)) == {AS_BEFORE: 6}


def test_a_hidden_folder_of_somebody_else_keeps_what_is_in_it(takes: Path, tmp_path: Path) -> None:
    kept = tmp_path / "out" / ".batch" / "notes.txt"
    kept.parent.mkdir(parents=True)
    kept.write_text("mine")
    (kept.parent / ".take-0-tight.mid.abc.part").write_text("left by a crash")
    run(takes, tmp_path / "out")
    assert [path.name for path in kept.parent.iterdir() if path.name != ".lock"] == ["notes.txt"]


def test_nothing_is_left_behind(takes: Path, tmp_path: Path) -> None:
    run(takes, tmp_path / "out")
    assert not [name for name in tree(tmp_path / "out") if Path(name).name.startswith(".")]
    assert not list((tmp_path / "out").glob(".*"))
