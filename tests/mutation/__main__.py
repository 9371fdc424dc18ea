"""Break the code on purpose, and count how often the tests say so.

python -m tests.mutation --seed 1 --count 300 [--room plan]

Every mutant (see mutants.py) of the files of the rooms is as likely to be drawn as any other,
without putting back; `__init__.py` has none. Each meets the tests of its room and the fast tests
of the whole, up to the first that fails; real takes are not used. Caught is what fails a test,
can't be imported, or takes four times the time of all its tests. Prints each mutant that survived,
and the share that was caught. Survivors that can change nothing are answered in answers.toml; the
share is told with and without them.
"""

import argparse
import importlib.util
import json
import random
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.mutation.answers import named, read_answers
from tests.mutation.mutants import Mutant, mutants
from tests.mutation.trial import prepare, try_out

ROOMS = ("plan", "carry", "grid", "sections", "habit")
_TESTS = Path(__file__).parents[1]
#: Fast tests of the whole: the first before those of the room, the others after them.
_FIRST = ["test_decisions.py"]
_THEN = ["test_judgement.py", "test_fixed_grid.py"]
#: Tests of a room that stand elsewhere.
_ALSO = {
    "sections": ["ground/test_whole.py"],
    "plan": ["ground/test_whole.py"],
    "carry": ["plan/test_towards.py", "plan/test_beside.py"],
}


def _all_mutants(rooms: list[str]) -> list[tuple[str, Path, Mutant]]:
    spec = importlib.util.find_spec("evenhand")
    assert spec is not None
    assert spec.origin is not None
    source = Path(spec.origin).parent
    return [
        (room, file, mutant)
        for room in rooms
        for file in sorted((source / room).glob("*.py"))
        if file.name != "__init__.py"
        for mutant in mutants(file.read_text("utf-8"))
    ]


def _tests(room: str, recorded: bool) -> list[str]:
    names = [*(_FIRST if recorded else []), room, *_THEN, *_ALSO.get(room, [])]
    return [str(_TESTS / name) for name in names]


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _append(path: Path, row: list[Any]) -> None:
    with path.open("a", encoding="utf-8") as file:
        file.write(json.dumps(row) + "\n")


def _score(what: str, rows: list[list[Any]], answered: list[str]) -> None:
    """The share that was caught, of all, and of those that are not answered."""
    caught = sum(row[-2] != 0 for row in rows)
    left = len(rows) - sum(what in ("all", name.split("/")[0]) for name in answered)
    _say(
        f"{what}: {caught} of {len(rows)} caught, {100 * caught / len(rows):.1f} %; "
        f"of the {left} that are not answered {100 * caught / max(left, 1):.1f} %"
    )


def main(words: list[str]) -> int:
    """Draw, try, tell."""
    reader = argparse.ArgumentParser(prog="python -m tests.mutation")
    reader.add_argument("--seed", type=int, default=1)
    reader.add_argument("--count", type=int, default=300)
    reader.add_argument("--room", choices=ROOMS, action="append")
    reader.add_argument("--file", help="only files of this name")
    reader.add_argument("--without-recorded", action="store_true", help="no recorded decisions")
    reader.add_argument("--part", default="1/1", help="2/3: the second third of what is drawn")
    reader.add_argument("--again", type=Path, help="only what survived by a file of --json")
    reader.add_argument("--json", type=Path, help="write each mutant and how it ended, as they end")
    given = reader.parse_args(words)
    there = _all_mutants(given.room or [*ROOMS])
    if given.file:
        there = [one for one in there if one[1].name == given.file]
    drawn = random.Random(given.seed).sample(there, min(given.count, len(there)))
    if given.again:
        rows = [json.loads(line) for line in given.again.read_text("utf-8").splitlines()]
        left = {(row[0], row[1]) for row in rows if row[-2] == 0}
        drawn = [one for one in there if (f"{one[0]}/{one[1].name}", one[2].number) in left]
    part, parts = (int(one) for one in given.part.split("/"))
    drawn = drawn[part - 1 :: parts]
    _say(f"{len(drawn)} of {len(there)} mutants, seed {given.seed}")
    prepare()
    told, answered, answers = [], [], read_answers()
    if given.json:
        given.json.write_text("", "utf-8")
    with tempfile.TemporaryDirectory() as folder:
        scratch, limits = Path(folder), {}
        for room in sorted({room for room, _, _ in drawn}):
            whole = try_out(_tests(room, not given.without_recorded), None, 600, scratch)
            if whole.status != 0:
                _say(f"{room}: its tests fail without a fault; see")
                _say((scratch / "printed").read_text("utf-8")[-2000:])
                return 1
            limits[room] = max(20.0, 4 * whole.seconds)
            _say(f"{room}: its tests take {whole.seconds:.0f} s")
        for room, file, mutant in sorted(drawn, key=lambda one: (str(one[1]), one[2].number)):
            tests = _tests(room, not given.without_recorded)
            ended = try_out(tests, (file, mutant.number), limits[room], scratch)
            name = f"{room}/{file.name}"
            row = [name, mutant.number, mutant.line, mutant.before, mutant.after]
            row += [ended.status, round(ended.seconds, 1)]
            told.append(row)
            if given.json:
                _append(given.json, row)
            if ended.status == 0:
                why = answers.get(named(name, file, mutant))
                answered += [name] if why else []
                told_of = f"{name}:{mutant.line} [{mutant.number}]"
                _say(f"survived {told_of}: {mutant.before} -> {mutant.after}")
                _say(f"    answered: {why}" if why else "    not answered")
    for room in sorted({row[0].split("/")[0] for row in told}):
        _score(room, [row for row in told if row[0].startswith(f"{room}/")], answered)
    _score("all", told, answered)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
