"""What a report of a fault needs to know: versions, system, and what is installed besides."""

import platform
import sys
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, requires, version

from evenhand import __version__


def versions() -> Iterator[str]:
    """Lines to be copied into a report; they name no file and no person."""
    yield f"evenhand {__version__}"
    yield f"Python {platform.python_version()} ({platform.python_implementation()})"
    yield f"{platform.system()} {platform.release()}, {platform.machine()}"
    output = getattr(sys.stdout, "encoding", None) or "unknown"
    yield f"encoding: files {sys.getfilesystemencoding()}, output {output}"
    for name in sorted({*_named(), "matplotlib", "pandas"}):
        yield f"{name} {_installed(name)}"


def _named() -> Iterator[str]:
    """The packages that evenhand needs, as its own metadata list them."""
    try:
        listed = requires("evenhand") or []
    except PackageNotFoundError:  # run from a folder, not installed
        listed = []
    for one in listed:
        if "extra ==" not in one:
            yield "".join(_name_of(one))


def _name_of(requirement: str) -> Iterator[str]:
    for letter in requirement:
        if not (letter.isalnum() or letter in "-_."):
            return
        yield letter


def _installed(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "is not installed"
