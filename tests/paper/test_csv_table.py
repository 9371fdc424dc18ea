"""The one writer of tables: whatever stands in a cell, it is read back, and runs nowhere."""

import ast
import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import evenhand
from evenhand.paper import csv_bytes
from evenhand.paper.csv_table import cell


@given(st.lists(st.lists(st.text(), min_size=2, max_size=2), max_size=5))
def test_rows_are_read_back(rows: list[list[str]]) -> None:
    data = csv_bytes(("one", "other"), rows).decode()
    back = list(csv.reader(io.StringIO(data, newline="")))
    assert back == [["one", "other"], *([cell(text) for text in row] for row in rows)]
    assert data.isprintable() or set(data) - {"\n"} == {one for one in data if one.isprintable()}


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-A1", "@SUM(A1)", "=", "-", "-1+1", "+1;2"])
def test_formulas_are_guarded(text: str) -> None:
    assert cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["\t=1", "\r=1", "\n=1", "\0=1"])
def test_what_can_t_be_seen_is_escaped(text: str) -> None:
    assert cell(text).startswith("\\")


@pytest.mark.parametrize("text", ["-12.5", "+3", "-0.000", "12:4-13:1", "a=b", "", "'x"])
def test_numbers_and_plain_text_stay(text: str) -> None:
    assert cell(text) == text


def test_names_that_are_no_text_are_escaped() -> None:
    assert cell("tak\udce9.mid") == "tak\\udce9.mid"
    assert cell(None) == ""


def test_there_is_no_other_writer() -> None:
    """A table that is written elsewhere would go without the guard."""
    users = [
        path.name
        for path in Path(evenhand.__file__).parent.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Import) and any(one.name == "csv" for one in node.names)
    ]
    assert users == ["csv_table.py"]
