"""A page in WebKit: Debian's MiniBrowser, driven by WebKitWebDriver, on a screen of its own."""

import contextlib
import os
import shutil
import subprocess
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains


def _browser() -> str:
    found = sorted(map(str, Path("/usr/lib").glob("*/webkit2gtk-4.*/MiniBrowser")))
    return found[-1] if found else ""


def missing() -> str:
    """What is missing for a test in WebKit; empty if nothing is."""
    if not shutil.which("WebKitWebDriver") or not _browser():
        return "no WebKit (Debian: webkit2gtk-driver)"
    if not shutil.which("Xvfb"):
        return "no screen for WebKit (Debian: xvfb)"
    return ""


@contextlib.contextmanager
def browser() -> Iterator["Page"]:
    """Start the browser; closed at the end."""
    reading, writing = os.pipe()
    with subprocess.Popen(
        ["Xvfb", "-displayfd", str(writing), "-screen", "0", "1280x900x24", "-nolisten", "tcp"],
        pass_fds=[writing],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as screen:
        os.close(writing)
        try:
            display = f":{os.read(reading, 20).decode().strip()}"
            os.close(reading)
            options = webdriver.WebKitGTKOptions()
            options.binary_location = _browser()
            options.add_argument("--automation")
            surroundings = {**os.environ, "DISPLAY": display, "GDK_BACKEND": "x11"}
            service = webdriver.WebKitGTKService(shutil.which("WebKitWebDriver"), env=surroundings)
            with warnings.catch_warnings():
                # How selenium itself reaches this driver is deprecated by selenium.
                warnings.simplefilter("ignore", DeprecationWarning)
                driver = webdriver.WebKitGTK(options=options, service=service)
            try:
                yield Page(driver)
            finally:
                driver.quit()
                service.stop()
        finally:
            screen.kill()


class Page:
    """The page of a browser."""

    def __init__(self, driver: Any) -> None:
        self._driver = driver

    def open(self, address: str) -> None:
        """Go to an address and wait until it is loaded."""
        self._driver.get(address)

    def run(self, script: str) -> Any:
        """Run the body of a function in the page and return what it returns."""
        return self._driver.execute_script(script)

    def press(self, *keys: str) -> None:
        """Press keys, one after the other."""
        ActionChains(self._driver).send_keys(*keys).perform()
