"""The command line from its first step to its last: whatever happens, it ends as promised.

`guarded` ends a command; here is what comes before it and after it: imports, the reading of the
command line, help pages, the last words in a full pipe.
"""

import contextlib
import io
import os
import signal
import sys
import warnings
from collections.abc import Iterator
from typing import NoReturn, TextIO

from evenhand.errors import one_line

#: Set to anything, errors that nobody has foreseen are shown in full.
TRACEBACK = "EVENHAND_TRACEBACK"

_DONE, _REFUSED = 0, 1

#: A terminal has fewer than 10,000 columns and lines.
_MOST_DIGITS = 4


def run() -> NoReturn:
    """Run the command that the command line names, and end this process."""
    settle_streams()
    code = _DONE
    if not os.environ.get(TRACEBACK):
        # Its words are its own; what a library has to say to programmers is not for users.
        warnings.simplefilter("ignore")
    for name in ("COLUMNS", "LINES"):
        # No terminal is that wide; tables would be filled up with blanks to its end.
        if len(os.environ.get(name, "")) > _MOST_DIGITS:
            del os.environ[name]
    try:
        _check_home(sys.argv[1:])
        from evenhand.cli.app import app

        with _words_of_completion(sys.argv[1:]):
            app()
    except SystemExit as done:
        code = done.code if isinstance(done.code, int) else _REFUSED if done.code else _DONE
    except OSError as error:
        code = _say_of_disk(error)
    except Exception as error:
        if os.environ.get(TRACEBACK):
            raise
        code = _stumbled(error)
    # What was to be done is done; from here on nothing can be interrupted.
    for one in (signal.SIGINT, signal.SIGTERM):
        signal.signal(one, signal.SIG_IGN)
    sys.exit(_flushed(code))


def settle_streams() -> None:
    """Make sure of all three standard streams, and that no name stops them.

    A stream that was closed refuses what is asked of it, and its number goes to no other file.
    """
    for number, how in ((0, os.O_WRONLY), (1, os.O_RDONLY), (2, os.O_WRONLY)):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, how)
    if sys.stdin is None:
        sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115 -- stays open
    for name, number in (("stdout", 1), ("stderr", 2)):
        stream = getattr(sys, name)
        if stream is None:
            stream = open(number, "w", encoding="utf-8", closefd=False)  # noqa: SIM115 -- stays open
            setattr(sys, name, stream)
        # A name that the terminal's encoding lacks is shown escaped, not with a traceback.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def say(message: str) -> None:
    """One line on standard error, if anybody reads there."""
    # Nothing else is imported here: this may be said in the middle of an import.
    with contextlib.suppress(OSError):
        sys.stderr.write(one_line(f"evenhand: {message}") + "\n")
        sys.stderr.flush()


def _asks_for_completion(words: list[str], *names: str) -> bool:
    return any(word.startswith(names) for word in words)


def _check_home(words: list[str]) -> None:
    """Completion is written into the files of a shell: of one whose home is known, no other."""
    asked = _asks_for_completion(words, "--install-completion")
    if asked and os.name == "posix" and not os.environ.get("HOME"):
        say("HOME is not set, so it is not known whose shell is meant; set it and try again")
        sys.exit(_REFUSED)


@contextlib.contextmanager
def _words_of_completion(words: list[str]) -> Iterator[None]:
    """The library that knows the shells refuses one in words of its own, on either stream."""
    if not _asks_for_completion(words, "--install-completion", "--show-completion"):
        yield
        return
    out, err, refused = io.StringIO(), io.StringIO(), False
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            yield
    except SystemExit as done:
        refused = done.code == _REFUSED
        raise
    finally:
        text = " ".join(f"{out.getvalue()} {err.getvalue()}".split())
        if refused and text and not text.startswith("evenhand: "):
            say(text)
        else:
            sys.stdout.write(out.getvalue())
            sys.stderr.write(err.getvalue())


def _say_of_disk(error: OSError) -> int:
    from evenhand.cli.guard import REFUSED, words_of

    say(words_of(error))
    return REFUSED


def _stumbled(error: Exception) -> int:
    """An error that nobody has foreseen, in one line that helps to find it."""
    trace = error.__traceback__
    while trace and trace.tb_next:
        trace = trace.tb_next
    where = ""
    if trace:
        file = os.path.basename(trace.tb_frame.f_code.co_filename)  # noqa: PTH119 -- pathlib may be what stumbled
        where = f" in {file}:{trace.tb_lineno}"
    say(
        f"it stumbled over this ({type(error).__name__}: {str(error)[:200]}{where}). That is a "
        f"fault of evenhand: please report this line and what led to it ({TRACEBACK}=1 shows more)"
    )
    return _REFUSED


def _flushed(code: int) -> int:
    """Send the last words off; Python's own try at the end must find nothing left to say."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError) as error:
            if stream is sys.stdout and not code and not isinstance(error, BrokenPipeError):
                from evenhand.cli.guard import words_of

                say(words_of(error))
            code = code or _REFUSED
            _send_nowhere(stream)
    return code


def _send_nowhere(stream: TextIO) -> None:
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
