"""A page in headless Firefox, driven over WebDriver BiDi (W3C), which Firefox speaks by itself."""

import contextlib
import itertools
import json
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.web.sound_device import device
from websockets.sync.client import ClientConnection, connect

_BROWSERS = ("firefox-esr", "firefox")

#: Nothing is asked of a network, no first-run pages, and sound may start by itself.
_SETTINGS = {
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.homepage": "about:blank",
    "datareporting.policy.dataSubmissionEnabled": False,
    "media.autoplay.blocking_policy": 0,
    "media.autoplay.default": 0,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "toolkit.telemetry.enabled": False,
}


def missing() -> str:
    """What is missing for a test in Firefox; empty if nothing is."""
    if not any(map(shutil.which, _BROWSERS)):
        return "no Firefox (Debian: firefox-esr)"
    return "" if shutil.which("pulseaudio") else "no sound for Firefox (Debian: pulseaudio)"


@contextlib.contextmanager
def browser() -> Iterator["Page"]:
    """Start Firefox with an empty page; closed at the end."""
    name = next(filter(None, map(shutil.which, _BROWSERS)))
    with device() as surroundings, tempfile.TemporaryDirectory() as profile:
        lines = [
            f"user_pref({json.dumps(key)}, {json.dumps(value)});"
            for key, value in _SETTINGS.items()
        ]
        Path(profile, "user.js").write_text("\n".join(lines), encoding="utf-8")
        command = [name, "--headless", "--no-remote", "--profile", profile]
        with subprocess.Popen(
            [*command, "--remote-debugging-port", "0"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            env=surroundings,
        ) as process:
            try:
                assert process.stderr is not None
                found = None
                while not found:
                    line = process.stderr.readline()
                    assert line, "Firefox ended"
                    found = re.search(r"BiDi listening on (ws://\S+)", line)
                with connect(f"{found[1]}/session", max_size=None, proxy=None) as talk:
                    yield Page(talk)
            finally:
                process.kill()


class Page:
    """The page of a browser."""

    def __init__(self, line: ClientConnection) -> None:
        self._line, self._numbers = line, itertools.count(1)
        self._ask("session.new", capabilities={})
        tree = self._ask("browsingContext.getTree")
        self._context = tree["contexts"][0]["context"]

    def open(self, address: str) -> None:
        """Go to an address and wait until it is loaded."""
        self._ask("browsingContext.navigate", context=self._context, url=address, wait="complete")

    def run(self, script: str) -> Any:
        """Run the body of a function in the page and return what it returns."""
        answer = self._ask(
            "script.evaluate",
            expression=f"JSON.stringify((() => {{ {script} }})() ?? null)",
            target={"context": self._context},
            awaitPromise=False,
            userActivation=True,
        )
        assert answer["type"] == "success", answer
        return json.loads(answer["result"]["value"])

    def press(self, *keys: str) -> None:
        """Press keys, one after the other."""
        actions = [{"type": kind, "value": key} for key in keys for kind in ("keyDown", "keyUp")]
        source = {"type": "key", "id": "keys", "actions": actions}
        self._ask("input.performActions", context=self._context, actions=[source])

    def _ask(self, method: str, **params: Any) -> dict[str, Any]:
        number = next(self._numbers)
        self._line.send(json.dumps({"id": number, "method": method, "params": params}))
        while True:
            answer: dict[str, Any] = json.loads(self._line.recv(timeout=60))
            if answer.get("id") == number:
                assert answer["type"] == "success", answer
                result: dict[str, Any] = answer["result"]
                return result
