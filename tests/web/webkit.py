"""A page in WebKit: Debian's MiniBrowser, driven by WebKitWebDriver, on a screen of its own."""

import contextlib
import json
import os
import shutil
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.web.sound_device import device

_PATIENCE_S = 30


def _browser() -> str:
    found = sorted(map(str, Path("/usr/lib").glob("*/webkit2gtk-4.*/MiniBrowser")))
    return found[-1] if found else ""


def missing() -> str:
    """What is missing for a test in WebKit; empty if nothing is."""
    if not shutil.which("WebKitWebDriver") or not _browser():
        return "no WebKit (Debian: webkit2gtk-driver)"
    for program, package in (("Xvfb", "xvfb"), ("pulseaudio", "pulseaudio")):
        if not shutil.which(program):
            return f"no {program} for WebKit (Debian: {package})"
    return ""


@contextlib.contextmanager
def _screen() -> Iterator[str]:
    """A screen that nobody sees; gives its name."""
    reading, writing = os.pipe()
    with subprocess.Popen(
        ["Xvfb", "-displayfd", str(writing), "-screen", "0", "1280x900x24", "-nolisten", "tcp"],
        pass_fds=[writing],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as screen:
        os.close(writing)
        try:
            yield f":{os.read(reading, 20).decode().strip()}"
        finally:
            os.close(reading)
            screen.kill()


@contextlib.contextmanager
def browser() -> Iterator["Page"]:
    """Start the browser; closed at the end."""
    with device() as with_sound, _screen() as display:
        surroundings = {**with_sound, "DISPLAY": display, "GDK_BACKEND": "x11"}
        # With the locale C the browser's language would be "c", which its own Intl refuses.
        surroundings |= {"LANG": "en_US.UTF-8", "LANGUAGE": "en_US", "LC_ALL": "en_US.UTF-8"}
        # In a container there are no user namespaces to make its sandbox of; then it waits for
        # ever. It is shown our own page only.
        surroundings["WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS"] = "1"
        port = _free_port()
        with subprocess.Popen(
            ["WebKitWebDriver", f"--port={port}"],
            env=surroundings,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        ) as process:
            try:
                page = Page(f"http://127.0.0.1:{port}")
                yield page
                page.close()
            finally:
                process.kill()


def _free_port() -> int:
    import socket

    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
        return port


class Page:
    """The page of a browser, over WebDriver (W3C)."""

    def __init__(self, driver: str) -> None:
        self._driver = driver
        options = {"binary": _browser(), "args": ["--automation"]}
        wanted = {"alwaysMatch": {"webkitgtk:browserOptions": options}}
        end = time.monotonic() + _PATIENCE_S
        while True:
            try:
                found = self._ask("POST", "/session", {"capabilities": wanted})
                break
            except urllib.error.URLError:
                # Not listening yet.
                assert time.monotonic() < end, "WebKitWebDriver does not answer"
                time.sleep(0.1)
        self._session = f"/session/{found['sessionId']}"

    def open(self, address: str) -> None:
        """Go to an address and wait until it is loaded."""
        self._ask("POST", f"{self._session}/url", {"url": address})

    def run(self, script: str) -> Any:
        """Run the body of a function in the page and return what it returns."""
        given = {"script": script, "args": []}
        return self._ask("POST", f"{self._session}/execute/sync", given)

    def press(self, *keys: str) -> None:
        """Press keys, one after the other."""
        actions = [{"type": kind, "value": key} for key in keys for kind in ("keyDown", "keyUp")]
        source = {"type": "key", "id": "keys", "actions": actions}
        self._ask("POST", f"{self._session}/actions", {"actions": [source]})

    def close(self) -> None:
        """End the session, and the browser with it."""
        self._ask("DELETE", self._session)

    def _ask(self, method: str, path: str, given: Any = None) -> Any:
        body = None if given is None else json.dumps(given).encode()
        request = urllib.request.Request(self._driver + path, body, method=method)
        opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        with opener.open(request, timeout=_PATIENCE_S) as answer:
            return json.load(answer)["value"]
