"""Fixtures that all tests share."""

import gc
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings
from tests.lengths import examples, sampled

if TYPE_CHECKING:
    from selenium.webdriver.remote.webdriver import WebDriver
    from tests.web.chromium import Opened

# The suite runs on all cores already; read when NumPy is first imported, here and in commands.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Some hundred processes are started; without bytecode on disk each would compile all of evenhand.
if os.environ.pop("PYTHONDONTWRITEBYTECODE", None):
    sys.dont_write_bytecode = False

# What is loaded while tests are collected lives to the end: no rubbish to look for, then or later.
gc.disable()

# How long an example takes says how busy the machine is, not whether the code is right.
settings.register_profile("suite", deadline=None, max_examples=examples(100))
settings.load_profile("suite")

# Many small files come and go: in memory, where there is room, or the tests wait for the disk.
_IN_MEMORY = Path("/dev/shm")
if os.access(_IN_MEMORY, os.W_OK) and shutil.disk_usage(_IN_MEMORY).free > 4 << 30:
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(_IN_MEMORY))

_ROOT = Path(__file__).parents[1]


def pytest_xdist_auto_num_workers() -> int:
    """One worker more than there are cores: browsers, disks and other processes are waited for."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0)) + 1
    return (os.cpu_count() or 1) + 1


def pytest_collection_finish() -> None:
    """Rubbish is looked for again, but not among all that was loaded: that took a seventh of it."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000)
    gc.enable()


def _takes_folder() -> Path:
    return Path(os.environ.get("EVENHAND_TAKES", _ROOT.parent / "shared" / "takes"))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run a test that asks for `take_path` once for each real take there is.

    One that asks for `sampled_path` gets a fifth of them, always the same; in a long run all.
    """
    for name in {"take_path", "sampled_path"} & {*metafunc.fixturenames}:
        paths = sorted(_takes_folder().glob("*.mid"))
        if name == "sampled_path":
            paths = sampled(paths)
        skipped = pytest.param(None, marks=pytest.mark.skip(reason="no folder of real takes"))
        metafunc.parametrize(name, paths or [skipped], ids=lambda path: path and path.stem)


@pytest.fixture(scope="session")
def takes() -> list[Path]:
    """All real takes; skips where there are none (EVENHAND_TAKES names another folder)."""
    paths = sorted(_takes_folder().glob("*.mid"))
    if not paths:
        pytest.skip("no folder of real takes")
    return paths


@pytest.fixture(scope="session")
def driver() -> Iterator["WebDriver"]:
    """Headless Chromium, started once; skips where there is none."""
    from tests.web import chromium

    if chromium.missing():
        pytest.skip(chromium.missing())
    with chromium.browser() as running:
        yield running


@pytest.fixture
def opened(driver: "WebDriver") -> Iterator[Callable[[Path], "Opened"]]:
    """Open a page in the browser, and close it: one that plays costs a quarter of a core."""
    from selenium.webdriver.common.action_chains import ActionChains
    from tests.web.chromium import Opened, set_screen

    set_screen(driver, 1280, 900, dark=False)
    # The mouse of the test before goes back to the corner.
    ActionChains(driver).reset_actions()
    yield lambda path: Opened(driver, path)
    driver.get("about:blank")


@pytest.fixture(scope="session")
def npm() -> Path:
    """The folder of npm packages that check pages; skips where they are not installed."""
    packages = _ROOT / "tests" / "web" / "node_modules"
    if not packages.is_dir():
        pytest.skip("no npm packages: run npm install --no-package-lock in tests/web")
    return packages


@pytest.fixture(scope="session")
def node() -> str:
    """Node, which checks scripts; skips where there is none."""
    found = shutil.which("node")
    if not found:
        pytest.skip("no node (Debian: nodejs)")
    return found
