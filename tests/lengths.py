"""How much the suite tries; `EVENHAND_LONG=1 pytest -m ''` tries all there is (minutes more)."""

import os
import random
from pathlib import Path

LONG = bool(os.environ.get("EVENHAND_LONG"))


def examples(many: int) -> int:
    """How many examples of a property: a fifth in a usual run, never less than 20."""
    return many if LONG else min(many, max(20, many // 5))


def sampled(paths: list[Path]) -> list[Path]:
    """A fifth of the real takes, always the same; in a long run all."""
    return sorted(paths if LONG else random.Random(15).sample(paths, -(-len(paths) // 5)))
