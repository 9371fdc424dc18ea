"""Commands run as processes of their own, the way a shell starts them."""

import os
import subprocess
import sys
from pathlib import Path

from tests.build import drum_bytes

import evenhand

_SOURCE = str(Path(evenhand.__file__).parents[1])

#: What the installed script does.
COMMAND = [sys.executable, "-c", "from evenhand.__main__ import main; main()"]

TAKE = drum_bytes([(line * 120 + line % 7 * 5, 42 if line % 4 else 36) for line in range(160)])

#: Commands in a folder with `take.mid`, its passes and a folder `in` of takes.
LINES = (
    "tighten take.mid -o out.mid --quiet",
    "tighten take.mid -o out.mid --overwrite",
    "assess take.mid",
    "fit take.mid -o fitted.mid",
    "kit take.mid",
    "listen take.mid -o page.html",
    "render take.mid -o sound.wav",
    "triggers take.mid -o clean --pulses",
    "batch in -o many --workers 2",
    "practice in -o practice",
    "passes take.mid --verify",
    "restore take.mid --pass 1 -o again.mid",
    "compare take.mid take-tight.mid",
    "demo new-demo.mid",
    "--help",
)


def environment(**changes: str | None) -> dict[str, str]:
    """The environment of a process; None takes a variable away."""
    values = {
        **os.environ,
        "PYTHONPATH": _SOURCE,
        **{name: value for name, value in changes.items() if value is not None},
    }
    return {name: value for name, value in values.items() if changes.get(name, "") is not None}


def stage(folder: Path) -> None:
    """Put there what the commands work on."""
    (folder / "take.mid").write_bytes(TAKE)
    (folder / "in").mkdir()
    for name in ("one.mid", "other.mid"):
        (folder / "in" / name).write_bytes(TAKE)
    words = [*COMMAND, "tighten", "take.mid", "--quiet"]
    subprocess.run(words, cwd=folder, check=True, env=environment(SOURCE_DATE_EPOCH="1793613600"))
