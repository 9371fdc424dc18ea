"""The protocol page names every change and every kind of message, and the schema is of one mind."""

import json
import re
from pathlib import Path

from evenhand.review.heard import VERDICTS
from evenhand.review.state import _CHANGES

_DOCS = Path(__file__).parents[2] / "docs"


def test_the_page_and_the_schema_name_what_there_is() -> None:
    page = (_DOCS / "review-protocol.md").read_text("utf-8")
    schema = json.loads((_DOCS / "review-protocol.schema.json").read_text("utf-8"))["$defs"]
    named = set(re.findall(r"`([^`]+)`", page))
    changes = {one["properties"]["op"]["const"] for one in schema["change"]["oneOf"]}
    assert changes == set(_CHANGES) <= named
    (mark,) = [
        one for one in schema["change"]["oneOf"] if one["properties"]["op"]["const"] == "mark"
    ]
    assert set(mark["properties"]["as"]["enum"]) == {*VERDICTS, None}
    kinds = set()
    for one in schema["message"]["oneOf"]:
        kind = one["properties"]["kind"]
        kinds |= set(kind.get("enum", [kind.get("const")]))
    assert kinds == {"all", "changed", "refused", "exists", "kept"}
    assert kinds <= named
