"""Faults that no test can catch because nothing becomes otherwise, each with the reason."""

import tomllib
from pathlib import Path

from tests.mutation.mutants import Mutant, mutants

#: File, the line of it that is changed, what is changed, into what, and which of several such
#: faults of the line it is, from 1.
Named = tuple[str, str, str, str, int]

_ANSWERS = Path(__file__).with_name("answers.toml")


def read_answers(path: Path = _ANSWERS) -> dict[Named, str]:
    """The reason for each fault that is answered."""
    found = tomllib.loads(path.read_text("utf-8")) if path.exists() else {}
    return {
        (file, one["line"], one["before"], one["after"], one.get("nth", 1)): one["why"]
        for file, some in found.items()
        for one in some
    }


def named(name: str, file: Path, mutant: Mutant) -> Named:
    """A fault by what stands there, so that lines may come before it.

    Parameters
    ----------
    name : str
        `room/file.py`.
    file : Path
    mutant : Mutant
    """
    source = file.read_text("utf-8")
    alike = [
        one.number
        for one in mutants(source)
        if (one.line, one.before, one.after) == (mutant.line, mutant.before, mutant.after)
    ]
    line = source.splitlines()[mutant.line - 1].strip()
    return name, line, mutant.before, mutant.after, 1 + alike.index(mutant.number)
