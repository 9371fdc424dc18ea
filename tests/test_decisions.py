"""Decisions, and the numbers of every stage, are those on record (tests/decisions.py, stages.py).

`EVENHAND_REFRESH=1 pytest -n 0 tests/test_decisions.py` records anew.
"""

import functools
import json
import os
from pathlib import Path
from typing import Any

import pytest
from tests.decisions import CASES, decisions, result_of
from tests.stages import differences, listened, written

from evenhand import Result

_DECISIONS = Path(__file__).with_name("decisions.json")
_BETWEEN = " | "
_STAGES = Path(__file__).with_name("stages.json")


@functools.cache
def _read(path: Path) -> dict[str, Any]:
    return json.loads(path.read_text("utf-8")) if path.exists() else {}


def _write(path: Path, data: object, **how: Any) -> None:
    text = json.dumps(data, indent=1, ensure_ascii=False, **how)
    path.write_text(text + "\n", "utf-8")


def _all_of(result: Result) -> Result:
    """A result whose figures, sections and flags have been asked for."""
    assert result.figures.hits == len(result.changes)
    assert result.sections
    assert len(result.flags) <= len(result.noted)
    return result


@pytest.mark.parametrize("name", CASES)
def test_decisions_and_numbers_are_those_on_record(name: str, tmp_path: Path) -> None:
    result, sums = listened(lambda: _all_of(result_of(name, tmp_path)))
    made = json.loads(json.dumps(decisions(result)))
    lines = {function: written(fields) for function, fields in sums.items()}
    record, stages = _read(_DECISIONS), _read(_STAGES)
    # For each function the lines that there are, each with the cases that it is of.
    old = {
        function: line
        for function, some in stages.items()
        for line, cases in some.items()
        if name in cases.split(_BETWEEN)
    }
    differ = [
        f"{function}: {field}"
        for function in sorted({*old, *lines})
        for field in differences(lines.get(function, ""), old.get(function, ""))
    ]
    if os.environ.get("EVENHAND_REFRESH"):
        kept = {one: record[one] for one in CASES if one in record}
        _write(_DECISIONS, kept | {name: made}, sort_keys=True)
        _write(_STAGES, _with_case(stages, name, lines), sort_keys=True)
        _read.cache_clear()
    assert made == record.get(name)
    assert not differ, "\n".join(["numbers of stages that differ:", *differ])


def _with_case(
    stages: dict[str, dict[str, str]], name: str, lines: dict[str, str]
) -> dict[str, dict[str, str]]:
    """The record with a case anew; cases that are no more are left out."""
    found = {
        (function, line): [one for one in cases.split(_BETWEEN) if one != name and one in CASES]
        for function, some in stages.items()
        for line, cases in some.items()
    }
    for function, line in lines.items():
        found.setdefault((function, line), []).append(name)
    made: dict[str, dict[str, str]] = {}
    for (function, line), cases in found.items():
        if cases:
            made.setdefault(function, {})[line] = _BETWEEN.join(cases)
    return made
