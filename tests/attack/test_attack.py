"""A short run of every attack; the long ones are commands (docs/reliability.md)."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from tests.lengths import LONG

import evenhand

#: How many cases of each; about 20 s of processor time in all.
SHORT = {
    "takes": 60,
    "recipes": 250,
    "guided": 150,
    "histories": 10,
    "kills": 8,
    "races": 6,
    "interrupts": 3,
    "streams": 3,
    "sides": 25,
}
if LONG:
    SHORT |= {"takes": 120, "kills": 24, "interrupts": 5, "streams": 6, "sides": 50}

_ROOT = Path(__file__).parents[2]
_SOURCE = Path(evenhand.__file__).parents[1]


pytestmark = pytest.mark.apart


@pytest.mark.parametrize("name", SHORT)
def test_short_attack(name: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", f"tests.attack.{name}", "--seed", "1", "--count", str(SHORT[name])],
        cwd=_ROOT,
        # The same files everywhere, whether there are real takes or not.
        env={**os.environ, "PYTHONPATH": str(_SOURCE), "EVENHAND_TAKES": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    told = json.loads(done.stdout)
    assert told["cases"] == SHORT[name]
    # The cases reach into the program, or this would say little.
    assert len(told["fates"]) > 1


def test_a_fault_is_found(tmp_path: Path) -> None:
    """The attack itself: an error that is no `EvenhandError` is a fault, and so is waste."""
    from tests.attack.trial import attack, bounded

    def case(seed: int, number: int) -> str:
        if number == 1:
            raise KeyError(seed)
        return bounded(0.05, 20, "waste", lambda: waste(number))

    def waste(number: int) -> str:
        sum(range(5_000_000 if number == 2 else 5))
        bytearray(60_000_000 if number == 3 else 5)
        return "well"

    tally = attack(case, 7, range(5))
    assert tally.fates["well"] == 2
    assert [fault.split(":")[0] for fault in tally.faults] == ["case 1", "case 2", "case 3"]
