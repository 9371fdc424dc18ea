"""The server: this computer only, one take, one process."""

import asyncio
import contextlib
import secrets
import socket
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute

from evenhand.errors import DiskError
from evenhand.review.guard import Guard
from evenhand.review.hub import Hub
from evenhand.review.session import Session
from evenhand.web import served, served_files

#: How long all pages may stay away after their goodbye, seconds.
PATIENCE = 60.0

#: The longest message of a page, bytes.
_MOST_BYTES = 65_536


def serve(
    session: Session,
    port: int,
    ready: Callable[[str], None],
    patience: float = PATIENCE,
) -> None:
    """Serve a session until Ctrl-C, or until all pages have said goodbye and stay away.

    Parameters
    ----------
    session : Session
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
        app = _app(session, ending, lambda: ready(address))
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


class _Ending:
    """Ends the server when nobody is there any more."""

    def __init__(self, patience: float) -> None:
        self._patience = patience
        self._timer: asyncio.TimerHandle | None = None
        self.end: Callable[[], None] = lambda: None

    def alone(self, alone: bool) -> None:
        """Start to wait, or stop waiting."""
        if self._timer:
            self._timer.cancel()
        self._timer = None
        if alone:
            self._timer = asyncio.get_running_loop().call_later(self._patience, self.end)


def _app(session: Session, ending: _Ending, ready: Callable[[], None]) -> Starlette:
    hub = Hub(session, ending.alone)
    voices: asyncio.Task[bytes] | None = None

    @contextlib.asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        nonlocal voices
        # The port is open already: who asks now is answered in a moment.
        asyncio.get_running_loop().call_soon(ready)
        # While the browser starts there is time for the samples.
        voices = asyncio.create_task(asyncio.to_thread(session.voices))
        yield

    async def sounds(_: Request) -> Response:
        assert voices is not None
        return Response(await asyncio.shield(voices), media_type="application/json")

    page = served("listen")
    routes: list[BaseRoute] = [Route("/", lambda _: Response(page, media_type="text/html"))]
    # A table of all there is: no path that is asked for is ever looked up on the disk.
    for address, (data, kind) in served_files("listen").items():
        routes.append(Route(address, _given(data, kind)))
    for name, sound in session.sounds.items():
        routes.append(Route(f"/sound/{name}", _file(sound.path)))
    routes += [Route("/sounds.json", sounds), WebSocketRoute("/talk", hub.talk)]
    return Starlette(routes=routes, lifespan=lifespan)


def _given(data: bytes, kind: str) -> Callable[[Request], Response]:
    return lambda _: Response(data, media_type=kind)


def _file(path: Path) -> Callable[[Request], Response]:
    return lambda _: FileResponse(path)
