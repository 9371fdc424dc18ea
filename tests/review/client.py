"""A review as others see it: the command in a process of its own, asked over its WebSocket."""

import contextlib
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

COMMAND = [sys.executable, "-c", "from evenhand.cli.app import main; main()", "review"]


class Running:
    """A server that runs, its address and its token."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self.process = process
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://([0-9.]+):([0-9]+)/\?token=(\S+)", line)
        assert found, line + (process.stderr.read() if process.stderr else "")
        self.port, self.token = int(found[2]), found[3]
        self.address = found[0]

    def headers(self, **more: str) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.token}", **more}

    def talk(self, **headers: str) -> ClientConnection:
        """Open a line; without `headers` with the token."""
        return connect(
            f"ws://127.0.0.1:{self.port}/talk",
            additional_headers=headers or self.headers(),
            max_size=None,
            compression=None,
            # The library would ask a proxy.
            proxy=None,
        )


@contextlib.contextmanager
def review(take: Path, *options: str) -> Iterator[Running]:
    """Run `evenhand review` on a take; killed at the end if it still runs."""
    process = subprocess.Popen(
        [*COMMAND, str(take), "--no-browser", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    try:
        yield Running(process)
    finally:
        process.kill()
        process.communicate()


class Client:
    """One page's side of the talk, as docs/review-protocol.md tells it."""

    def __init__(self, line: ClientConnection) -> None:
        self.line, self.number = line, 0
        first = json.loads(line.recv())
        assert first["kind"] == "all"
        self.data: dict[str, Any] = first["data"]
        self.heard: list[dict[str, Any]] = [first]

    def send(self, op: str, **values: Any) -> int:
        self.number += 1
        self.line.send(json.dumps({"id": self.number, "op": op, **values}))
        return self.number

    def listen(self) -> dict[str, Any]:
        """Take in one message."""
        message: dict[str, Any] = json.loads(self.line.recv(timeout=20))
        self.heard.append(message)
        if message["kind"] == "changed":
            data = dict(message["data"])
            self.data["hits"].update(data.pop("hits", {}))
            self.data.update(data)
        return message

    def ask(self, op: str, **values: Any) -> dict[str, Any]:
        """Make a change and wait for what comes of it."""
        number = self.send(op, **values)
        while True:
            message = self.listen()
            answers = message["answers"]
            if number == answers or (isinstance(answers, list) and number in answers):
                return message
