"""A page in headless Chromium, as the tests and the script that takes pictures use it."""

import base64
import contextlib
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from selenium import webdriver
from selenium.webdriver.remote.webdriver import WebDriver

_BROWSERS = ("chromium", "chromium-browser", "google-chrome")
_OPTIONS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
)

#: What the pages' scripts leave for the console, by name.
_NAMES = (
    "const {Chart, Controls, Decisions, Desk, Facts, List, Main, Model, Strip, Time, Words, "
    "now: Data} = globalThis.evenhand ?? {};\n"
)

#: Render a stretch of one side with the page's own sound, as float32 in base64.
_RENDER = """
const [side, from, to, rate, parts, level, done] = arguments;
const context = new OfflineAudioContext(1, Math.ceil((to - from) / 1000 * rate), rate);
const desk = Desk.makeDesk(context);
desk.master.gain.value = level;
Desk.fill(desk, side, from, to, 0, 1);
Desk.fillClick(desk, from, to, 0, 1, parts);
context.startRendering().then((sound) => {
  const bytes = new Uint8Array(sound.getChannelData(0).buffer);
  let text = "";
  for (let at = 0; at < bytes.length; at += 32768) {
    text += String.fromCharCode(...bytes.subarray(at, at + 32768));
  }
  done(btoa(text));
});
"""


def missing() -> str:
    """What is missing for a test in a browser; empty if nothing is."""
    if not any(map(shutil.which, _BROWSERS)) or not shutil.which("chromedriver"):
        return "no Chromium with chromedriver (Debian: chromium, chromium-driver)"
    return ""


@contextlib.contextmanager
def browser(watched: bool = True) -> Iterator[WebDriver]:
    """Start Chromium; closed at the end.

    Unless `watched`, it does not keep what goes over the network, which `Opened.requests` asks for:
    each message of a live page would be told to the driver as well, and that takes longer than the
    page does.
    """
    options = webdriver.ChromeOptions()
    options.binary_location = next(filter(None, map(shutil.which, _BROWSERS)))
    for option in _OPTIONS:
        options.add_argument(option)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    options.add_experimental_option("perfLoggingPrefs", {"enableNetwork": watched})
    service = webdriver.ChromeService(shutil.which("chromedriver"))
    driver = webdriver.Chrome(options=options, service=service)
    try:
        yield driver
    finally:
        driver.quit()
        service.stop()


class Opened:
    """A page that is open, with everything the browser said about it."""

    def __init__(self, driver: WebDriver, place: Path | str) -> None:
        self.driver = driver
        driver.get_log("browser")
        driver.get_log("performance")
        driver.get(place if isinstance(place, str) else place.as_uri())

    def run(self, script: str, *arguments: Any) -> Any:
        """Run a script in the page and return what it returns."""
        return self.driver.execute_script(_NAMES + script, *arguments)

    def later(self, script: str, *arguments: Any) -> Any:
        """Run a script that calls its last argument when it is done, and return what it gives."""
        return self.driver.execute_async_script(_NAMES + script, *arguments)

    def find(self, name: str) -> Any:
        """The element with an id."""
        return self.driver.find_element("id", name)

    def console(self) -> list[str]:
        """What was written to the console since the page was opened or last asked."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def requests(self) -> list[str]:
        """Addresses that were asked for, the page's own file aside."""
        found = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                found.append(message["params"]["request"]["url"])
        own = self.driver.current_url
        return [address for address in found if address.partition("#")[0] != own]

    def sound(
        self, side: str, start: float, stop: float, parts: int = 0, level: float = 0.125
    ) -> np.ndarray:
        """What the page plays from `start` to `stop`, ms, at 44.1 kHz; `parts` clicks a beat.

        `level` is that of the whole; the page starts with 0.125, -18 dB.
        """
        coded = self.later(_RENDER, side, start, stop, 44_100, parts, level)
        return np.frombuffer(base64.b64decode(coded), np.float32)


def set_screen(driver: WebDriver, width: int, height: int, dark: bool) -> None:
    """Give the page a screen of this size in CSS pixels, light or dark."""
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
    )
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})


def picture(driver: WebDriver, width: int, most: int = 20_000) -> bytes:
    """The page from its top as PNG, however long, at most `most` pixels."""
    size = driver.execute_cdp_cmd("Page.getLayoutMetrics", {})["cssContentSize"]
    clip = {"x": 0, "y": 0, "width": width, "height": min(size["height"], most), "scale": 1}
    shot = driver.execute_cdp_cmd(
        "Page.captureScreenshot", {"captureBeyondViewport": True, "clip": clip}
    )
    return base64.b64decode(shot["data"])
