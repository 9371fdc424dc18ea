"""The fuzzer of takes: `python -m tests.attack.takes --seed 1 --count 200000 --workers 2`.

A file is damaged in its bytes or in its parts (`mutations`) and goes through reading, tightening
and one more job. It is tightened, or refused by an `EvenhandError`; in bounded time and memory;
what comes out has kept every event. Every few cases a whole command is run on it.
"""

import random
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests import invariants
from tests.attack.bases import all_bases
from tests.attack.inside import promised, scratch_root
from tests.attack.mutations import damaged, distorted
from tests.attack.trial import bounded, chance_of, expect, main

from evenhand import EvenhandError, Recipe, Take, assess, fit, tighten

#: What a file of up to 100 kB may cost, seconds of processor time for each job.
SECONDS = 1.0

#: A tempo that wanders is followed beat by beat; and a command imports, shows and writes besides.
SECONDS_OF_A_FIT, _SECONDS_OF_A_COMMAND = 4.0, 6.0

#: What any file may cost: so many times its size, and so much besides, MB.
TIMES, BESIDES = 60, 60.0

_RECIPES = (
    Recipe(),
    Recipe(window=0, strength=100, reach=50),
    Recipe(latency=11.5, hold=("1:1-1:2",), grid="1/8T"),
    Recipe(latency="auto", plan="spans", lean_follow=2, grid="1/32"),
    Recipe(sections="none", grid="1/4", fills="as-played", ornaments="off", together=0),
)

#: Whole commands; {take} and {folder} are put in.
_COMMANDS = (
    "tighten {take} -o {folder}/out.mid",
    "tighten {take} --fit --dry-run --json",
    "tighten {take} --write-recipe {folder}/out.toml -o {folder}/out.mid --no-record",
    "assess {take} --json",
    "assess {take} --write-recipe {folder}/out.toml",
    "fit {take} -o {folder}/fitted.mid",
    "kit {take}",
    "listen {take} -o {folder}/page.html",
    "triggers {take} -o {folder}/clean",
    "triggers {take} --check --tighten --json",
    "compare {take} {take}",
    "practice {take} -o {folder}/practice",
    "batch {take} -o {folder}/many --workers 1",
)


def file_of(seed: int, number: int) -> bytes:
    """The damaged file of a case."""
    chance = chance_of(seed, number, "take")
    base = chance.choice(all_bases())
    return damaged(chance, base) if chance.random() < 0.35 else distorted(chance, base)


def case(seed: int, number: int) -> str:
    """Try one damaged file."""
    data, chance = file_of(seed, number), chance_of(seed, number, "job")
    room = (TIMES * len(data)) / 1e6 + BESIDES
    recipe = chance.choice(_RECIPES)
    fate = bounded(SECONDS, room, "tightening", lambda: read_and_tighten(data, recipe))
    if fate == "refused":
        if chance.random() < 0.005:
            _whole_command(data, chance, room)
        return fate
    if chance.random() < 0.3:
        job = chance.choice((assess, fit))
        take = Take.from_bytes(data)
        seconds = SECONDS_OF_A_FIT if job is fit else SECONDS
        bounded(seconds, room, job.__name__, lambda: _may_refuse(job, take))
    if chance.random() < 0.1:
        _whole_command(data, chance, room)
    return fate


def read_and_tighten(data: bytes, recipe: Recipe) -> str:
    """How far a damaged file gets; whatever comes out must be sound."""
    try:
        take = Take.from_bytes(data)
    except EvenhandError as error:
        return _refused("refused", error)
    expect(take.to_bytes() == data, "a take that was not changed has other bytes")
    for one in take.smf.tracks:
        # Each event takes two bytes at the least, so the columns are bounded by the file.
        expect(2 * len(one) <= len(one.data) <= len(data), "more events than bytes")
    try:
        result = tighten(take, recipe)
    except EvenhandError as error:
        return _refused("read, then refused", error)
    after = result.take.to_bytes()
    # Delta times and spelled-out status bytes are all that can grow: five bytes for each event.
    longest = len(data) + 5 * sum(len(one) for one in take.smf.tracks)
    expect(len(after) <= longest, "the file grew")
    expect(Take.from_bytes(after).to_bytes() == after, "what was written can't be read back")
    invariants.bytes_are_kept(result)
    return "tightened"


def _may_refuse(job: Callable[[Take], object], take: Take) -> None:
    try:
        job(take)
    except EvenhandError as error:
        _refused("refused", error)


def _refused(how: str, error: EvenhandError) -> str:
    expect(str(error).isprintable(), f"{error!r} can't be printed")
    return how


def _whole_command(data: bytes, chance: random.Random, room: float) -> None:
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    try:
        take = folder / "take.mid"
        take.write_bytes(data)
        line = chance.choice(_COMMANDS)
        words = [word.format(take=take, folder=folder) for word in line.split()]
        bounded(_SECONDS_OF_A_COMMAND, 2 * room, line, lambda: promised(words))
        expect(take.read_bytes() == data, f"{line} changed the take")
        left = [path for path in folder.rglob("*") if path.suffix in (".part", ".old")]
        expect(not left, f"{line} left {left}")
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main(case, "Damage takes.", 200_000)
