"""How much the suite tries; `EVENHAND_LONG=1 pytest` tries all there is (minutes more)."""

import os

LONG = bool(os.environ.get("EVENHAND_LONG"))


def examples(many: int) -> int:
    """How many examples of a property: a quarter in a usual run, never less than 25."""
    return many if LONG else min(many, max(25, many // 4))
