"""The server: this computer only, one take, one process."""

import asyncio
import contextlib
import secrets
import socket
from collections.abc import AsyncIterator, Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket

from evenhand.errors import DiskError, EvenhandError
from evenhand.review.access import Guard
from evenhand.review.edges import SoundFile
from evenhand.review.hub import Hub
from evenhand.web import served, served_files

if TYPE_CHECKING:
    from evenhand.review.session import Session

#: How long all pages may stay away after their goodbye, seconds.
PATIENCE = 60.0

#: How long a page has to ask why there is nothing to see, seconds.
_TO_TELL = 2.0

#: The longest message of a page, bytes.
_MOST_BYTES = 65_536


def serve(
    opening: "Callable[[], Session]",
    sounds: Mapping[str, SoundFile],
    port: int,
    ready: Callable[[str], None],
    patience: float = PATIENCE,
) -> None:
    """Serve a session until Ctrl-C, or until all pages have said goodbye and stay away.

    Parameters
    ----------
    opening : callable
        Opens the session; called while the browser starts.
    sounds : mapping of str to SoundFile
        Its sound files by name.
    port : int
        0 for a free one.
    ready : callable
        Told the first address, with its token, once it can be asked.
    patience : float
        Seconds.

    Raises
    ------
    DiskError
        If the port is taken.
    EvenhandError
        Whatever `opening` raises; the page tells it as well.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listening:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind(("127.0.0.1", port))
            listening.listen()
        except (OSError, OverflowError) as error:
            raise DiskError(f"port {port} can't be used: {error}; name another") from None
        port = listening.getsockname()[1]
        token = secrets.token_urlsafe(32)
        ending = _Ending(patience)
        address = f"http://127.0.0.1:{port}/?token={token}"
        app = _app(opening, sounds, ending, lambda: ready(address))
        config = uvicorn.Config(
            Guard(app, port, token),
            log_level="critical",
            access_log=False,
            server_header=False,
            ws="websockets-sansio",
            ws_max_size=_MOST_BYTES,
            # To this computer itself there is nothing to be saved.
            ws_per_message_deflate=False,
            timeout_graceful_shutdown=1,
        )
        server = uvicorn.Server(config)
        ending.end = lambda: setattr(server, "should_exit", True)
        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(server.serve(sockets=[listening]))
        if ending.error:
            raise ending.error


class _Ending:
    """Ends the server when nobody is there any more."""

    def __init__(self, patience: float) -> None:
        self._patience = patience
        self._timer: asyncio.TimerHandle | None = None
        self.end: Callable[[], None] = lambda: None
        self.error: EvenhandError | None = None

    async def open(self, opening: "Callable[[], Session]") -> "Session":
        """Open the session; if that can't be done, the server ends once the page was told."""
        try:
            return await asyncio.to_thread(opening)
        except EvenhandError as error:
            self.error = error
            asyncio.get_running_loop().call_later(_TO_TELL, self.end)
            raise

    def alone(self, alone: bool) -> None:
        """Start to wait, or stop waiting."""
        if self._timer:
            self._timer.cancel()
        self._timer = None
        if alone:
            self._timer = asyncio.get_running_loop().call_later(self._patience, self.end)


def _app(
    opening: "Callable[[], Session]",
    sounds: Mapping[str, SoundFile],
    ending: _Ending,
    ready: Callable[[], None],
) -> Starlette:
    session: asyncio.Task[Session]
    hub: Hub

    @contextlib.asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        nonlocal session, hub
        # The port is open already: who asks now is answered in a moment. To start a browser may
        # take its time.
        asyncio.get_running_loop().run_in_executor(None, ready)
        session = asyncio.create_task(ending.open(opening))
        session.add_done_callback(lambda task: task.cancelled() or task.exception())
        hub = Hub(session, ending.alone)
        yield

    async def talk(page: WebSocket) -> None:
        await hub.talk(page)

    async def voices(_: Request) -> Response:
        try:
            there = await asyncio.shield(session)
        except EvenhandError:
            return Response(status_code=404)
        samples = await asyncio.to_thread(there.voices)
        return Response(samples, media_type="application/json")

    page = served("listen")
    routes: list[BaseRoute] = [Route("/", lambda _: Response(page, media_type="text/html"))]
    # A table of all there is: no path that is asked for is ever looked up on the disk.
    for address, (data, kind) in served_files("listen").items():
        routes.append(Route(address, _given(data, kind)))
    for name, sound in sounds.items():
        routes.append(Route(f"/sound/{name}", _file(sound.path)))
    routes += [Route("/sounds.json", voices), WebSocketRoute("/talk", talk)]
    return Starlette(routes=routes, lifespan=lifespan)


def _given(data: bytes, kind: str) -> Callable[[Request], Response]:
    return lambda _: Response(data, media_type=kind)


def _file(path: Path) -> Callable[[Request], Response]:
    return lambda _: FileResponse(path)
