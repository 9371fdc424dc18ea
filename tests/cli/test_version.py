"""The version, and what a report of a fault needs besides."""

import platform
from importlib.metadata import version

from typer.testing import CliRunner

import evenhand
from evenhand.cli.app import app


def _said(*words: str) -> tuple[int, str]:
    done = CliRunner().invoke(app, words)
    return done.exit_code, done.output


def test_the_version_is_one_line() -> None:
    assert _said("--version") == (0, f"evenhand {evenhand.__version__}\n")


def test_a_report_names_all_that_matters() -> None:
    for words in (("--version", "--verbose"), ("--verbose", "--version")):
        code, said = _said(*words)
        lines = said.splitlines()
        assert code == 0
        assert lines[0] == f"evenhand {evenhand.__version__}"
        assert f"Python {platform.python_version()} " in said
        for name in ("numpy", "mido", "typer", "pretty-midi"):
            assert f"{name} {version(name)}" in lines


def test_without_a_command_it_is_wrong_usage() -> None:
    code, said = _said("--verbose")
    assert code == 2
    assert "Missing command" in said
