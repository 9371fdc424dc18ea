"""Fixtures that all tests share."""

import os
from pathlib import Path

import pytest

_ROOT = Path(__file__).parents[1]


def _takes_folder() -> Path:
    return Path(os.environ.get("EVENHAND_TAKES", _ROOT.parent / "shared" / "takes"))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run a test that asks for `take_path` once for each real take there is."""
    if "take_path" in metafunc.fixturenames:
        paths = sorted(_takes_folder().glob("*.mid"))
        skipped = pytest.param(None, marks=pytest.mark.skip(reason="no folder of real takes"))
        metafunc.parametrize("take_path", paths or [skipped], ids=lambda path: path and path.stem)


@pytest.fixture(scope="session")
def takes() -> list[Path]:
    """All real takes; skips where there are none (EVENHAND_TAKES names another folder)."""
    paths = sorted(_takes_folder().glob("*.mid"))
    if not paths:
        pytest.skip("no folder of real takes")
    return paths
