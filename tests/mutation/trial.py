"""One mutant against the tests: in a process that has loaded everything but evenhand."""

import importlib.machinery
import os
import resource
import sys
import time
import traceback
from dataclasses import dataclass
from pathlib import Path
from types import CodeType
from typing import Any

from tests.mutation.mutants import with_fault

#: Memory that a mutant may take, bytes; one that takes more is caught.
_MEMORY = 6 << 30


@dataclass(frozen=True)
class Ended:
    """How the tests ended.

    Attributes
    ----------
    status : int or None
        That of pytest: 0 is all passed. None if the time was over.
    seconds : float
    """

    status: int | None
    seconds: float


def try_out(tests: list[str], fault: tuple[Path, int] | None, limit: float, scratch: Path) -> Ended:
    """Run tests up to the first that fails.

    Parameters
    ----------
    tests : list of str
        Files and folders; the first is tried alone, before the others are even read.
    fault : (Path, int) or None
        A file of evenhand and the number of the fault to put into it; None for the code as it is.
    limit : float
        Seconds of processor time; the time on the clock may be five times as much.
    scratch : Path
        A folder for what the tests leave.
    """
    began = time.monotonic()
    child = os.fork()
    if child == 0:
        status = 9
        try:
            status = _inside(tests, fault, limit, scratch)
        except BaseException:  # noqa: BLE001 - whatever it is, this process must not go on
            traceback.print_exc()
        finally:
            os._exit(status)
    while time.monotonic() - began < 5 * limit:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            seconds = time.monotonic() - began
            return Ended(os.waitstatus_to_exitcode(status), seconds)
        time.sleep(0.02)
    os.kill(child, 9)
    os.waitpid(child, 0)
    return Ended(None, time.monotonic() - began)


def _inside(tests: list[str], fault: tuple[Path, int] | None, limit: float, scratch: Path) -> int:
    import pytest

    resource.setrlimit(resource.RLIMIT_CPU, (round(limit), round(limit) + 1))
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
    # A counterexample that one mutant gave would be tried on all others.
    os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = str(scratch / "hypothesis")
    # The same with and without a folder of real takes.
    os.environ["EVENHAND_TAKES"] = str(scratch / "none")
    quiet = os.open(scratch / "printed", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    for stream in (1, 2):
        os.dup2(quiet, stream)
    if fault is not None:
        _put_in(*fault)
    plain = ["-n", "0", "-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=1"]
    # What is loaded already is no test.
    plain += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
    plain.append(f"--basetemp={scratch / 'tmp'}")
    return int(pytest.main([*plain, tests[0]]) or pytest.main([*plain, *tests[1:]]))


def _put_in(file: Path, number: int) -> None:
    """From now on, whoever imports the file gets it with the fault."""
    code = compile(with_fault(file.read_text("utf-8"), number), str(file), "exec")
    usual = importlib.machinery.SourceFileLoader.get_code

    def get_code(self: Any, fullname: str) -> CodeType | None:
        return code if Path(self.path) == file else usual(self, fullname)

    importlib.machinery.SourceFileLoader.get_code = get_code  # type: ignore[method-assign] # for this process


def prepare() -> None:
    """Load what every trial needs, but for evenhand itself: nothing of it is used here."""
    import hypothesis.strategies  # noqa: F401 -- loaded for the trials
    import mido  # noqa: F401 -- loaded for the trials
    import pytest  # noqa: F401 -- loaded for the trials
    import starlette  # noqa: F401 -- loaded for the trials
    import typer.testing  # noqa: F401 -- loaded for the trials

    loaded = [name for name in sys.modules if name.split(".")[0] == "evenhand"]
    assert not loaded, loaded
