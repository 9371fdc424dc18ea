"""Hashes of what comes out: every take under several recipes, to compare before and after.

    python -m tests.evaluation.hash_outputs FOLDER > before.txt
    python -m tests.evaluation.hash_outputs FOLDER > after.txt
    diff before.txt after.txt

One line for each take and recipe: hash of the MIDI bytes, hash of the change log, recipe, take.
"""

import hashlib
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from evenhand.errors import EvenhandError
from evenhand.paper.change_log import change_log
from evenhand.recipe import Recipe
from evenhand.take import read_take
from evenhand.tightener import tighten

#: The first edition: windows, a reach, half of the lean kept.
_FIRST: dict[str, object] = {"window": "auto", "reach": 40.0, "lean": 50.0, "carry": "together"}

#: From these to the corners: fixed grids, spans, leans that drift, all decisions off.
_SETTINGS: dict[str, dict[str, object]] = {
    "defaults": {},
    "fixed": {"grid": "1/16", "window": 20.0, "strength": 100.0, "lean": 0.0},
    "plain": {
        "grid": "1/8T",
        "reach": 60.0,
        "lean": 0.0,
        "fills": "tight",
        "ornaments": "off",
        "sections": "none",
        "syncopation": "move",
    },
    "spans": {"plan": "spans", "lean": 100.0},
    "drifting": {"lean_follow": 8.0, "fills": "as-played", "latency": "auto"},
    "toms": {"anchor": ("kick", "snare", "tom 1"), "hold": ("3:1-4:4",), "together": 35.0},
}
RECIPES = {"today": {}, **{name: {**_FIRST, **settings} for name, settings in _SETTINGS.items()}}


def hashes(path: Path) -> list[str]:
    """One line for each recipe."""
    take = read_take(path)
    return [f"{_hashed(take, settings)} {name} {path.name}" for name, settings in RECIPES.items()]


def _hashed(take: object, settings: dict[str, object]) -> str:
    try:
        result = tighten(take, Recipe(**settings))  # type: ignore[arg-type] # by name
    except EvenhandError as error:
        return f"refused: {error}"
    files = (result.take.to_bytes(), change_log(result.changes))
    return " ".join(hashlib.sha256(data).hexdigest()[:16] for data in files)


def main(folder: str) -> None:
    """Print the hashes of all takes in a folder."""
    paths = sorted(Path(folder).glob("*.mid"))
    with ProcessPoolExecutor(2) as pool:
        for lines in pool.map(hashes, paths):
            sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(sys.argv[1])
