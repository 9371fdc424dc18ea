"""With a given grid and the plain dials, outputs are what they were before there were others."""

import hashlib
from pathlib import Path
from typing import Any

import pytest
from tests.build import plain_recipe

from evenhand import Take, tighten
from evenhand.paper.change_log import change_log

#: The example of that version, before it was given habits.
_TAKE = Path(__file__).parent / "first_demo.mid"

# Taken from the version before `--grid auto`, over the bytes of the take and of the change log.
BEFORE: list[tuple[dict[str, Any], str]] = [
    ({"grid": "1/16"}, "01c0ec4915d231a0"),
    ({"grid": "1/8T", "strength": 60.0}, "5620fb3ad1711ec9"),
    ({"grid": "1/8", "swing": 58.0, "latency": 3.0, "window": 5.0}, "998a469e7e8af4d9"),
]
#: How many columns there were, up to `reason`.
_COLUMNS = 19


@pytest.mark.parametrize(("settings", "digest"), BEFORE)
def test_outputs_are_the_same_to_the_bit(settings: dict[str, Any], digest: str) -> None:
    result = tighten(Take.from_bytes(_TAKE.read_bytes()), plain_recipe(**settings))
    # Columns from `span` on have come behind the others since.
    rows = change_log(result.changes).decode().split("\n")
    log = "\n".join(",".join(row.split(",")[:_COLUMNS]) for row in rows)
    data = result.take.to_bytes() + log.encode()
    assert hashlib.sha256(data).hexdigest()[:16] == digest
