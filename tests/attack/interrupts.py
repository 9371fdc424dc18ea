"""The interrupter: `python -m tests.attack.interrupts --seed 1 --count 300`.

A command in a process of its own gets SIGINT (or SIGTERM) at a random instant, from its first to
its last. It ends with status 130 (143) and one line, or had ended before; what it wrote is whole
or not there.
"""

import atexit
import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
import time
from functools import cache
from pathlib import Path

from tests.attack.inside import scratch_root
from tests.attack.kills import files_in
from tests.attack.outside import COMMAND, LINES, environment, stage
from tests.attack.trial import chance_of, expect, main


@cache
def _staged() -> Path:
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    stage(folder)
    return folder


@cache
def _whole(line: str) -> tuple[float, dict[str, bytes]]:
    """How long a command takes, and what it leaves."""
    folder = _copy()
    begin = time.monotonic()
    _start(line, folder).communicate(timeout=120)
    seconds = time.monotonic() - begin
    left = _read(folder)
    shutil.rmtree(folder)
    return seconds, left


def _copy() -> Path:
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    shutil.copytree(_staged(), folder, dirs_exist_ok=True)
    return folder


def _start(line: str, folder: Path) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(
        [*COMMAND, *line.split()],
        cwd=folder,
        env=environment(SOURCE_DATE_EPOCH="1793613600"),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        # In the background a shell lets its commands ignore SIGINT, and so would those they start.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # noqa: PLW1509 -- no threads here
    )


def case(seed: int, number: int) -> str:
    """Interrupt a command."""
    chance = chance_of(seed, number, "interrupt")
    line = LINES[number % len(LINES)]
    seconds, whole = _whole(line)
    sent = signal.SIGTERM if chance.random() < 0.2 else signal.SIGINT
    folder = _copy()
    process = _start(line, folder)
    try:
        time.sleep(chance.uniform(0, 1.05 * seconds))
        # A terminal sends it to all processes of the command; kill(1) to the one that is named.
        to_all = chance.random() < 0.5
        with contextlib.suppress(ProcessLookupError):
            (os.killpg if to_all else os.kill)(process.pid, sent)
        out, err = process.communicate(timeout=60)
        fate = _fate(process.returncode, err.decode(errors="replace"), sent)
        now = _read(folder)
        for name, data in now.items():
            if not Path(name).name.startswith(".") and not name.endswith("passes.jsonl"):
                expect(data in (whole.get(name), _before(name)), f"{line}: {name} is half there")
        parts = [name for name in now if ".part" in name]
        expect(not parts or fate == "before its first line", f"{line}: {parts} left")
        del out
    finally:
        if process.poll() is None:
            process.kill()
            process.communicate()
        shutil.rmtree(folder)
    return fate


def _read(folder: Path) -> dict[str, bytes]:
    """Every file; a page names the folder it was made in, which is another each time."""
    name = str(folder).encode()
    return {one: data.replace(name, b"folder") for one, data in files_in(folder).items()}


def _before(name: str) -> bytes | None:
    path = _staged() / name
    return path.read_bytes() if path.exists() else None


def _fate(status: int, err: str, sent: signal.Signals) -> str:
    if status in (1, -sent) and "Traceback" in err and "evenhand" not in err:
        # Python's own start-up, which no program written in it can guard.
        return "in Python's own start-up"
    if status == -sent:
        expect(not err, f"killed, and said {err!r}")
        return "before its first line"
    expect("Traceback" not in err and "Exception ignored" not in err, err[-700:])
    # 3: `compare` has found differences.
    if status in (0, 3):
        return "done before"
    expect(status == 128 + sent, f"status {status}: {err[-300:]}")
    if sent == signal.SIGINT:
        said = [one for one in err.splitlines() if one.startswith("evenhand: interrupted; ")]
        expect(len(said) == 1, f"it said {err!r}")
        expect(said[0].removeprefix("evenhand: interrupted;").strip(), f"it said {err!r}")
    return "interrupted"


if __name__ == "__main__":
    main(case, "Ctrl-C at random instants.", 300)
