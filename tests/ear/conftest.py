"""Fixtures for pages in a browser; they skip where there is none."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from selenium.webdriver.remote.webdriver import WebDriver
    from tests.web.chromium import Opened

WEB = Path(__file__).parents[1] / "web"


@pytest.fixture(scope="session")
def driver() -> Iterator["WebDriver"]:
    """Headless Chromium, started once."""
    from tests.web import chromium

    if chromium.missing():
        pytest.skip(chromium.missing())
    with chromium.browser() as running:
        yield running


@pytest.fixture
def opened(driver: "WebDriver") -> Callable[[Path], "Opened"]:
    """Open a page in the browser."""
    from tests.web.chromium import Opened, set_screen

    set_screen(driver, 1280, 900, dark=False)
    return lambda path: Opened(driver, path)


@pytest.fixture(scope="session")
def demo_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the demo take, with the take beside it."""
    from tests.ear.pages import make_page

    from evenhand.jobs.demo import demo_take

    folder = tmp_path_factory.mktemp("demo")
    return make_page(folder, demo_take(), name="kettle-weather.mid")


@pytest.fixture(scope="session")
def npm() -> Path:
    """The folder of npm packages that check the page; skips where they are not installed."""
    packages = WEB / "node_modules"
    if not packages.is_dir():
        pytest.skip("no npm packages: run npm install --no-package-lock in tests/web")
    return packages
