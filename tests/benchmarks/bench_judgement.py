"""Time of the decisions: spans of 5,000 strokes, and a whole pass with and without them."""

import sys
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import perf_counter

import numpy as np
from tests.build import plain_recipe

from evenhand import Recipe, Take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.plan.spans import find_spans


def seconds(work: Callable[[], object], rounds: int = 7) -> float:
    """The median of some rounds."""
    times = []
    for _ in range(rounds):
        begin = perf_counter()
        work()
        times.append(perf_counter() - begin)
    return median(times)


def main() -> None:
    dice = np.random.default_rng(4)
    for name, spread, middle in (("scattered", 20, 0), ("all late alike", 1, 60)):
        off = dice.normal(middle, spread, 5000)
        took = seconds(lambda off=off: find_spans(-off - 12.5, -off + 12.5))
        print(f"exact spans of 5,000 strokes, {name}: {1000 * took:.0f} ms")
    data = Path(sys.argv[1]).read_bytes() if len(sys.argv) > 1 else demo_take()
    take = Take.from_bytes(data)
    base = seconds(lambda: tighten(take, plain_recipe()))
    print(f"plain pass of {len(take.hits())} hits: {1000 * base:.0f} ms (baseline)")
    grid = {"grid": "1/16"}
    for name, recipe in (
        ("sections", plain_recipe(sections="auto")),
        ("lean, fills, ornaments", Recipe(**grid, sections="none")),
        ("the same with spans", Recipe(**grid, sections="none", plan="spans")),
        ("all defaults", Recipe()),
    ):
        took = seconds(lambda recipe=recipe: tighten(take, recipe))
        print(f"{name}: {took / base:.2f} times")


if __name__ == "__main__":
    main()
