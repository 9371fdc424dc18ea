"""Checks of scripts that stand on pages."""

import subprocess
from pathlib import Path

_ROOT = Path(__file__).parents[2]


def check_syntax(node: str, script: Path) -> None:
    """Fail if a script can't be parsed."""
    done = subprocess.run([node, "--check", script], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()


def check_style(node: str, npm: Path, place: Path) -> None:
    """Fail if eslint has anything to say about a script, or about those in a folder."""
    lint = [node, npm / "eslint/bin/eslint.js", "--config", "tests/web/eslint.config.mjs"]
    done = subprocess.run(
        [*lint, "--max-warnings", "0", place], cwd=_ROOT, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stdout.decode() + done.stderr.decode()
