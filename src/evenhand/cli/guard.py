"""What every command shares: how errors end, and where words go."""

import contextlib
import functools
import inspect
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from typing import Annotated, Any, NoReturn

import typer

from evenhand.cli.start import say, settle_streams
from evenhand.errors import EvenhandError
from evenhand.recipe import OUTPUT

DONE, REFUSED, WRONG_USAGE, INTERRUPTED = 0, 1, 2, 130


class UsageError(EvenhandError):
    """The command line itself makes no sense."""


#: The option that every command gets, and what it says if it is not given.
_LARGEST = Annotated[
    float,
    typer.Option(
        "--largest",
        metavar="MB",
        min=0,
        help="The largest file that is read.",
        show_default="256",
        rich_help_panel=OUTPUT,
    ),
]
_USUAL_LARGEST = 256.0


def guarded(command: Callable[..., None]) -> Callable[..., None]:
    """End a command as promised: one line on standard error and the right exit code.

    It gets one more option, `--largest`.
    """

    @functools.wraps(command)
    def run(*args: Any, largest: float = _USUAL_LARGEST, **kwargs: Any) -> None:
        settle_streams()
        with _listening() as interrupted:
            try:
                with _reading_up_to(largest):
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
                _end(words_of(error), REFUSED)
            except KeyboardInterrupt as error:
                _end(f"interrupted; {str(error) or 'nothing was left half-written'}", INTERRUPTED)
            except MemoryError:
                _end("not enough memory for this file", REFUSED)
            except Exception:
                if not interrupted.is_set():
                    raise
                # Ctrl-C in the middle of an import ends as anything at all.
                _end("interrupted; nothing was left half-written", INTERRUPTED)

    parameter = inspect.Parameter(
        "largest", inspect.Parameter.KEYWORD_ONLY, default=_USUAL_LARGEST, annotation=_LARGEST
    )
    signature = inspect.signature(command)
    parameters = [*signature.parameters.values(), parameter]
    run.__annotations__ = {**command.__annotations__, "largest": _LARGEST}
    vars(run)["__signature__"] = signature.replace(parameters=parameters)
    return run


@contextlib.contextmanager
def _reading_up_to(megabytes: float) -> Iterator[None]:
    """The limit of a command; what is usual needs no import."""
    if megabytes == _USUAL_LARGEST:
        yield
        return
    from evenhand.take import reading_up_to

    with reading_up_to(megabytes):
        yield


def words_of(error: OSError | ValueError) -> str:
    """What an error of the system says; one without a name of a file comes from writing words."""
    why = getattr(error, "strerror", None) or str(error)
    name = getattr(error, "filename", None)
    if name is None:
        return f"standard output can't be written: {why}"
    return f"{os.fsdecode(name) if isinstance(name, bytes) else name} can't be used: {why}"


@contextlib.contextmanager
def _listening() -> Iterator[threading.Event]:
    """Answer Ctrl-C and SIGTERM as long as a command runs; yields whether Ctrl-C has come."""
    interrupted = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield interrupted
        return

    def interrupt(*_: object) -> NoReturn:
        interrupted.set()
        raise KeyboardInterrupt

    def not_lost(lost: Any) -> None:
        # In the middle of what can't fail, Python drops an error: let it come once more.
        if lost.exc_type is KeyboardInterrupt:
            signal.raise_signal(signal.SIGINT)
        else:
            before(lost)

    before = sys.unraisablehook
    signal.signal(signal.SIGTERM, _terminated)
    signal.signal(signal.SIGINT, interrupt)
    sys.unraisablehook = not_lost
    try:
        yield interrupted
    finally:
        sys.unraisablehook = before


def _terminated(signal_number: int, frame: object) -> NoReturn:
    del frame
    sys.exit(128 + signal_number)


def _end(message: str, code: int) -> NoReturn:
    say(message)
    raise typer.Exit(code) from None
