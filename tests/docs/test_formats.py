"""Formats of files: the docs have the numbers of the code, and another number is not misread."""

import json
import re
from pathlib import Path

import pytest
from tests.passes.history import add, draft

from evenhand import SettingError, Take
from evenhand.errors import DiskError
from evenhand.ground import prepare
from evenhand.jobs.batch import record
from evenhand.jobs.demo_take import demo_take
from evenhand.passes import entry
from evenhand.profile import file as habit_file
from evenhand.profile import find_profile
from evenhand.recipe import Recipe

_PAGE = (Path(__file__).parents[2] / "docs" / "files.md").read_text("utf-8")


def _row(name: str) -> str:
    return next(line for line in _PAGE.splitlines() if line.startswith(f"| {name}"))


def test_the_page_has_the_numbers_of_the_code() -> None:
    told = {
        name: int(re.search(r"`schema` (\d+)", _row(name))[1])
        for name in ("habit file", "`passes.jsonl`", "`TAKE.record.json`")
    }
    assert [*told.values()] == [habit_file.SCHEMA, entry.SCHEMA, record.SCHEMA]


def test_a_habit_of_another_number_is_refused(tmp_path: Path) -> None:
    ground = prepare(Take.from_bytes(demo_take(), "demo"), Recipe())
    written = habit_file.profile_toml(find_profile([ground]))
    path = tmp_path / "habit.toml"
    path.write_bytes(written)
    assert habit_file.read_profile(path).piece.size > 0
    for number in (0, habit_file.SCHEMA + 1):
        path.write_bytes(written.replace(b"schema = 1", b"schema = %d" % number))
        with pytest.raises(SettingError, match="no habit file of this version"):
            habit_file.read_profile(path)


def test_a_newer_pass_is_refused_and_a_new_key_passed_over(tmp_path: Path) -> None:
    one = add(tmp_path / "take.passes", draft())
    line = entry.as_line(one)
    assert entry.from_line({**line, "mood": "good"}) == one
    with pytest.raises(DiskError, match=r"newer evenhand \(schema 2\); update yours"):
        entry.from_line({**line, "schema": entry.SCHEMA + 1})


def test_a_record_of_another_number_counts_as_none(tmp_path: Path) -> None:
    path = tmp_path / "one.record.json"
    sound = {"schema": record.SCHEMA, "files": {}}
    path.write_text(json.dumps(sound), "utf-8")
    assert record.read_record(path) == sound
    for number in (record.SCHEMA - 1, record.SCHEMA + 1):
        path.write_text(json.dumps({**sound, "schema": number}), "utf-8")
        assert record.read_record(path) is None
