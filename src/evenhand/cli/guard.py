"""What every command shares: how errors end, and where words go."""

import functools
import io
import os
import signal
import sys
from collections.abc import Callable
from typing import NoReturn, ParamSpec

import typer

from evenhand.errors import EvenhandError

_P = ParamSpec("_P")

DONE, REFUSED, WRONG_USAGE, INTERRUPTED = 0, 1, 2, 130


class UsageError(EvenhandError):
    """The command line itself makes no sense."""


def guarded(command: Callable[_P, None]) -> Callable[_P, None]:
    """End a command as promised: one line on standard error and the right exit code."""

    @functools.wraps(command)
    def run(*args: _P.args, **kwargs: _P.kwargs) -> None:
        signal.signal(signal.SIGTERM, _terminated)
        for stream in (sys.stdout, sys.stderr):
            # A name that the terminal's encoding lacks is shown escaped, not with a traceback.
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="backslashreplace")
        try:
            command(*args, **kwargs)
            sys.stdout.flush()
        except UsageError as error:
            _end(f"{error}", WRONG_USAGE)
        except EvenhandError as error:
            _end(f"{error}", REFUSED)
        except BrokenPipeError:
            # Whoever read our words has gone; nothing is left to be said.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            raise typer.Exit(REFUSED) from None
        except OSError as error:
            _end(f"standard output can't be written: {error.strerror or error}", REFUSED)
        except KeyboardInterrupt as error:
            _end(f"interrupted; {error or 'nothing was left half-written'}", INTERRUPTED)
        except MemoryError:
            _end("not enough memory for this file", REFUSED)

    return run


def _terminated(signal_number: int, frame: object) -> NoReturn:
    del frame
    sys.exit(128 + signal_number)


def _end(message: str, code: int) -> NoReturn:
    from evenhand.paper import printable

    typer.echo(printable(f"evenhand: {message}"), err=True)
    raise typer.Exit(code) from None
