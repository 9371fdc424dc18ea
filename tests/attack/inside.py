"""Commands run inside this process, as fast as a call, with their words and exit code."""

import io
import os
import signal
import sys
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass

from tests.attack.trial import expect


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: bytes
    err: str


def command(words: Sequence[str], stdin: bytes = b"") -> Ended:
    """Run `evenhand` with these words; an error that comes out of it is let out."""
    from evenhand.cli.start import TRACEBACK, run

    # An error that nobody has foreseen must come out, not end as a line of words.
    os.environ[TRACEBACK] = "1"
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", newline="") for _ in range(2))
    argv, was_stdin = sys.argv, sys.stdin
    handlers = {one: signal.getsignal(one) for one in (signal.SIGINT, signal.SIGTERM)}
    sys.argv, sys.stdin = ["evenhand", *words], io.TextIOWrapper(io.BytesIO(stdin))
    code = 0
    try:
        with redirect_stdout(out), redirect_stderr(err):
            run()
    except SystemExit as done:
        code = done.code if isinstance(done.code, int) else int(done.code is not None)
    finally:
        sys.argv, sys.stdin = argv, was_stdin
        for one, handler in handlers.items():
            signal.signal(one, handler)
    out.flush()
    err.flush()
    return Ended(code, out.buffer.getvalue(), err.buffer.getvalue().decode("utf-8", "replace"))


def promised(words: Sequence[str], stdin: bytes = b"") -> Ended:
    """Run a command and hold it to its promise: done, or one line that says what and where."""
    ended = command(words, stdin)
    check_end(ended, " ".join(words))
    return ended


def check_end(ended: Ended, what: str) -> None:
    """An exit code that is promised, one line where it is 1, and never a traceback."""
    expect("stumbled" not in ended.err, f"{what}: {ended.err}")
    expect("Traceback" not in ended.err, f"{what}: {ended.err[-600:]}")
    expect("not enough memory" not in ended.err, f"{what}: {ended.err}")
    expect(ended.code in (0, 1, 2, 3), f"{what}: exit code {ended.code}")
    # Takes that fail alone, and are told in the list of a batch.
    if ended.code == 1 and not (b"failed" in ended.out and not ended.err):
        lines = [line for line in ended.err.splitlines() if line.startswith("evenhand: ")]
        expect(len(lines) == 1, f"{what}: exit code 1 and {ended.err!r}")
        expect(all(letter.isprintable() for letter in lines[0]), f"{what}: {lines[0]!r}")


def scratch_root() -> str:
    """Where many small files come and go: in memory, where there is such a place."""
    return "/dev/shm" if os.access("/dev/shm", os.W_OK) else ""
