"""Run `evenhand`: in this process, as most tests do, or whole, in one of its own.

What a whole process is needed for: how it starts, signals, closed streams, full pipes, two at once.
"""

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from typer.testing import CliRunner, Result

import evenhand
from evenhand.cli.app import app

#: The command as it is installed.
EVENHAND = Path(sys.executable).with_name("evenhand")

#: For the surroundings of a process that imports `tests` too, and the same evenhand as these tests.
PYTHONPATH = os.pathsep.join(
    [str(Path(evenhand.__file__).parents[1]), str(Path(__file__).parents[1])]
)


def run(
    *words: object, cwd: Path, stdin: bytes = b"", env: dict[str, str] | None = None
) -> subprocess.CompletedProcess[bytes]:
    """Run the command in this process; an error that nobody has foreseen is raised.

    It sees no terminal, as in a pipe: 80 columns, no colours.
    """
    texts = [os.fspath(word) if isinstance(word, Path) else str(word) for word in words]
    done = _invoke(texts, cwd, stdin, env)
    return subprocess.CompletedProcess(
        ["evenhand", *texts], done.exit_code, done.stdout_bytes, done.stderr_bytes
    )


def shown(words: Sequence[str], cwd: Path, env: dict[str, str]) -> str:
    """What a command prints on both streams, as it would stand in a terminal."""
    return _invoke(words, cwd, b"", env).output


def _invoke(words: Sequence[str], cwd: Path, stdin: bytes, env: dict[str, str] | None) -> Result:
    with _left_as_found(), contextlib.chdir(cwd), _surroundings({"COLUMNS": "80", **(env or {})}):
        return CliRunner().invoke(app, words, input=stdin, catch_exceptions=False)


def run_whole(
    *words: object, cwd: Path, stdin: bytes = b"", env: dict[str, str] | None = None
) -> subprocess.CompletedProcess[bytes]:
    """Run the installed command in a process of its own."""
    return subprocess.run(
        [EVENHAND, *map(str, words)], cwd=cwd, input=stdin, env={**os.environ, **(env or {})},
        capture_output=True, check=False,
    )  # fmt: skip


def as_text(done: subprocess.CompletedProcess[bytes]) -> subprocess.CompletedProcess[str]:
    """The same with what was printed as text."""
    return subprocess.CompletedProcess(
        done.args, done.returncode, done.stdout.decode(), done.stderr.decode()
    )


@contextlib.contextmanager
def _left_as_found() -> Iterator[None]:
    """Signals are answered as before, though a command that ends leaves its answers behind."""
    signals = (signal.SIGINT, signal.SIGTERM)
    before = [signal.getsignal(one) for one in signals]
    try:
        yield
    finally:
        for one, answer in zip(signals, before, strict=True):
            signal.signal(one, answer)


@contextlib.contextmanager
def _surroundings(env: dict[str, str]) -> Iterator[None]:
    before = {name: os.environ.get(name) for name in env}
    os.environ.update(env)
    _clock_by_zone()
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
        _clock_by_zone()


def _clock_by_zone() -> None:
    # Windows has no tzset; there TZ counts for nothing anyway.
    if hasattr(time, "tzset"):
        time.tzset()
