"""How much the suite tries; `EVENHAND_LONG=1 pytest` tries all there is (minutes more)."""

import os
import random
from pathlib import Path

LONG = bool(os.environ.get("EVENHAND_LONG"))


def examples(many: int) -> int:
    """How many examples of a property: a quarter in a usual run, never less than 25."""
    return many if LONG else min(many, max(25, many // 4))


def sampled(paths: list[Path]) -> list[Path]:
    """A quarter of the real takes, always the same; in a long run all."""
    return sorted(paths if LONG else random.Random(15).sample(paths, -(-len(paths) // 4)))
