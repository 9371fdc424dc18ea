"""Decisions on invented takes are those on record (decisions.py says how to renew it)."""

import json
import os
from pathlib import Path

import pytest
from tests.decisions import CASES, decisions, result_of

_RECORD = Path(__file__).with_name("decisions.json")


@pytest.mark.parametrize("name", CASES)
def test_decisions_are_those_on_record(name: str, tmp_path: Path) -> None:
    made = json.loads(json.dumps(decisions(result_of(name, tmp_path))))
    record = json.loads(_RECORD.read_text("utf-8")) if _RECORD.exists() else {}
    if os.environ.get("EVENHAND_REFRESH"):
        kept = {one: record[one] for one in CASES if one in record}
        text = json.dumps(kept | {name: made}, indent=1, ensure_ascii=False, sort_keys=True)
        _RECORD.write_text(text + "\n", "utf-8")
    assert made == record.get(name)
