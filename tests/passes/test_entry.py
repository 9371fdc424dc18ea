import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.passes.history import add, draft

from evenhand.errors import DiskError
from evenhand.passes.entry import FIGURES, FILES, Pass, as_line, clean, from_line, read_line

_SHA = st.text("0123456789abcdef", min_size=64, max_size=64)
_TEXT = st.text(st.characters(exclude_categories=["Cs"]))
_NUMBER = st.none() | st.integers(0, 10**6) | st.floats(-1e6, 1e6)
_PASSES = st.builds(
    Pass,
    number=st.just(7),
    start=st.integers(0, 6),
    time=_TEXT,
    evenhand=_TEXT,
    note=_TEXT,
    take=_TEXT,
    wrote=_TEXT,
    original=_SHA,
    input=_SHA,
    output=_SHA,
    files=st.dictionaries(st.sampled_from(FILES), _SHA),
    recipe=st.dictionaries(_TEXT, st.none() | _TEXT | st.floats(0, 100) | st.lists(_TEXT)),
    figures=st.fixed_dictionaries(dict.fromkeys(FIGURES, _NUMBER)),
)


@given(_PASSES)
def test_a_line_tells_the_whole_pass(one: Pass) -> None:
    text = json.dumps(as_line(one), ensure_ascii=False)
    assert "\n" not in text
    assert read_line(text) == read_line(text.encode()) == one


@pytest.fixture
def line(tmp_path: Path) -> dict[str, Any]:
    return as_line(add(tmp_path / "take.passes", draft()))


def test_what_a_line_holds(line: dict[str, Any]) -> None:
    assert (line["schema"], line["pass"], line["from"]) == (1, 1, 0)
    assert (line["time"], line["take"], line["wrote"]) == (
        "2026-11-02T10:00:00Z", "take.mid", "take-tight.mid",
    )  # fmt: skip
    figures = draft().result.figures
    assert line["recipe"]["anchor"] == ["kick", "snare", "side stick"]
    assert line["figures"]["moved"] == figures.actions["moved"]
    assert line["figures"]["spread_after"] == round(figures.tightness["all"].spread_after, 3)
    assert line["figures"]["hits"] == figures.hits


def test_keys_that_are_not_known_are_passed_over(line: dict[str, Any]) -> None:
    assert as_line(from_line({**line, "mood": "good"})) == line


_BAD = [
    ("schema", None, "no schema"),
    ("schema", True, "no schema"),
    ("schema", "1", "no schema"),
    ("schema", 2, "newer evenhand"),
    ("pass", 0, "numbers"),
    ("pass", 1.0, "'pass'"),
    ("pass", True, "'pass'"),
    ("pass", 10**9, "'pass'"),
    ("from", 1, "numbers"),
    ("from", -1, "'from'"),
    ("original", "../../etc/passwd", "'original'"),
    ("output", "A" * 64, "'output'"),
    ("files", {"../x": "0" * 64}, "'files'"),
    ("files", {"kit.toml": "0"}, "'files'"),
    ("note", 3, "'note'"),
    ("recipe", [], "'recipe'"),
    ("recipe", {"hold": [[[[[[[[]]]]]]]]}, "'recipe'"),
    ("figures", {}, "'figures'"),
    ("figures", dict.fromkeys(FIGURES, "many"), "'figures'"),
    ("figures", dict.fromkeys(FIGURES, 10**400), "'figures'"),
]


@pytest.mark.parametrize(("key", "value", "word"), _BAD)
def test_bad_lines_are_refused_by_key(
    line: dict[str, Any], key: str, value: object, word: str
) -> None:
    with pytest.raises(DiskError, match=word):
        read_line(json.dumps({**line, key: value}))


@pytest.mark.parametrize("key", ["pass", "time", "input", "figures"])
def test_missing_keys_are_named(line: dict[str, Any], key: str) -> None:
    del line[key]
    with pytest.raises(DiskError, match=f"'{key}'"):
        from_line(line)


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "3", '{"schema": NaN}', "[" * 100_000, "9" * 5000, '{"schema": 1e999}', "\0"],
)
def test_what_is_no_line_is_refused(text: str) -> None:
    with pytest.raises(DiskError):
        read_line(text)


def test_bytes_that_are_no_utf8_are_refused() -> None:
    with pytest.raises(DiskError):
        read_line(b'{"schema": "\xff"}')


def test_names_of_strange_bytes_can_be_written() -> None:
    assert clean("t\udcffke") == "t\\udcffke"
