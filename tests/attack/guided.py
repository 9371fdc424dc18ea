"""Guided by coverage: `python -m tests.attack.guided --seed 1 --count 200000`.

With atheris (an optional package, see docs/dependencies.md) inputs grow from those that reached
new lines of evenhand; one process, bytes of takes and of recipes in turn. Without it, hypothesis
draws inputs and is led by its `target()` towards those that get furthest.
"""

import argparse
import json
import os
import sys
import tempfile
import time
from collections import Counter
from importlib.util import find_spec
from pathlib import Path

_DEPTHS = {"refused": 0.0, "read, then refused": 1.0, "tightened": 2.0}
fates: Counter[str] = Counter()


def try_bytes(data: bytes) -> float:
    """Send bytes in as a take, or, if they begin with `#`, as a recipe; how far they got."""
    from tests.attack import recipes, takes
    from tests.attack.trial import expect

    from evenhand import EvenhandError, Recipe, tighten

    if not data.startswith(b"#"):
        fate = takes.read_and_tighten(data, Recipe())
    else:
        try:
            fate = "read, then refused"
            recipe = recipes.from_file(data)
            tighten(recipes.small_takes()[0], recipe)
            fate = "tightened"
        except EvenhandError as error:
            expect(str(error).isprintable(), f"{error!r} can't be printed")
            fate = fate if "recipe" in locals() else "refused"
    fates[fate] += 1
    return _DEPTHS[fate]


def _seeds() -> list[bytes]:
    # Not at the top: what is to be watched must be imported first by the one who watches.
    from tests.attack.bases import made

    from evenhand import Recipe
    from evenhand.recipe import recipe_toml

    text = recipe_toml(Recipe(hold=("1:1-2:1",), section=({"bars": "1-2", "grid": "1/8"},)))
    return [*made(), b"#\n" + text.encode(), b"#\nstrength = 50\n[[nudge]]\nat = '1:1'\nms = 3\n"]


def with_atheris(seed: int, count: int) -> None:
    """Guided by the lines that an input reaches."""
    import atheris

    with atheris.instrument_imports(include=["evenhand"], enable_loader_override=False):
        import evenhand.fitter
        import evenhand.recipe.toml
        import evenhand.take.take
        import evenhand.tightener  # noqa: F401 -- imported to be watched
    with tempfile.TemporaryDirectory() as folder:
        for number, data in enumerate(_seeds()):
            (Path(folder) / str(number)).write_bytes(data)
        words = [
            sys.argv[0],
            f"-runs={count}",
            f"-seed={seed}",
            "-max_len=4096",
        ]
        atheris.Setup([*words, "-timeout=10", "-rss_limit_mb=2000", folder], _try_quietly)
        atheris.Fuzz()


def _try_quietly(data: bytes) -> None:
    try_bytes(data)
    if sum(fates.values()) >= _count:
        _tell()
        # The library ends the process itself, and would say nothing of what it saw.
        sys.stdout.flush()
        os._exit(0)


def with_hypothesis(seed: int, count: int) -> None:
    """Guided by how far an input gets, and how long the text of its refusal is."""
    from hypothesis import HealthCheck, Phase, given, settings, target
    from hypothesis import seed as seeded
    from hypothesis import strategies as st

    seeds = _seeds()

    @seeded(seed)
    @settings(
        max_examples=count,
        deadline=None,
        database=None,
        phases=[Phase.generate, Phase.target],
        suppress_health_check=list(HealthCheck),
    )
    @given(
        st.sampled_from(range(len(seeds))),
        st.lists(st.tuples(st.integers(0, 4096), st.binary(max_size=6)), max_size=8),
    )
    def run(base: int, edits: list[tuple[int, bytes]]) -> None:
        data = bytearray(seeds[base])
        for at, some in edits:
            place = at % (len(data) + 1)
            data[place : place + len(some)] = some
        target(try_bytes(bytes(data)), label="how far")

    run()


def _tell() -> None:
    told: dict[str, object] = {
        "cases": sum(fates.values()),
        "faults": 0,
        "fates": dict(sorted(fates.items())),
        "minutes": round((time.monotonic() - _begin) / 60, 1),
    }
    sys.stdout.write(json.dumps(told) + "\n")


_count, _begin = 0, time.monotonic()

if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Guided by coverage.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=200_000)
    parser.add_argument("--with", dest="how", choices=["atheris", "hypothesis"])
    given_words = parser.parse_args()
    _count = given_words.count
    how = given_words.how or ("atheris" if find_spec("atheris") else "hypothesis")
    (with_atheris if how == "atheris" else with_hypothesis)(given_words.seed, _count)
    _tell()
