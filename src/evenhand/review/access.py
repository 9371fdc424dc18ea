"""Who may ask: this computer's browser, with the token, from this page; nobody else.

A page elsewhere can make a browser ask anything of any address, and a name elsewhere can be made to
mean this computer. So each request has to name this address as its host, come from no other origin,
and carry the token: as a cookie that other pages' requests go without, or in a header. Nothing has
a body worth reading.
"""

import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

#: A body longer than this is refused unread, bytes; no request of the page has any.
MOST_BYTES = 4096

#: Sent with everything.
_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Guard:
    """Lets through what may ask, and answers everything else with 403, 405 or 413.

    Parameters
    ----------
    app : ASGI application
    port : int
    token : str
    """

    def __init__(self, app: App, port: int, token: str) -> None:
        self._app, self._token, self.cookie = app, token, f"evenhand-{port}"
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        policy = (
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
            f"connect-src 'self' ws://127.0.0.1:{port} ws://localhost:{port}; "
            "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
        )
        self._headers = {**_HEADERS, "Content-Security-Policy": policy}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        status, extra = self._judge(scope)
        if not status:
            await self._app(scope, receive, self._with_headers(send))
        elif scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
        else:
            headers = {**self._headers, **extra, "Connection": "close", "Content-Length": "0"}
            await send({"type": "http.response.start", "status": status, "headers": _raw(headers)})
            await send({"type": "http.response.body", "body": b""})

    def _judge(self, scope: Scope) -> tuple[int, dict[str, str]]:
        """The status to refuse with, and headers; 0 to let through."""
        headers = [(name.lower(), value.decode("latin-1")) for name, value in scope["headers"]]
        if not self._from_here(headers):
            return 403, {}
        if any(name == b"transfer-encoding" or _too_long(name, value) for name, value in headers):
            return 413, {}
        if self._is_entry(scope):
            cookie = f"{self.cookie}={self._token}; Path=/; HttpOnly; SameSite=Strict"
            return 303, {"Location": "/", "Set-Cookie": cookie}
        if not any(map(self._is_token, self._tokens(headers))):
            return 403, {}
        asks = scope["type"] == "websocket" or scope["method"] in ("GET", "HEAD")
        return (0, {}) if asks else (405, {"Allow": "GET, HEAD"})

    def _from_here(self, headers: list[tuple[bytes, str]]) -> bool:
        """Whether a request names this address, and comes from no page elsewhere."""
        hosts = [value for name, value in headers if name == b"host"]
        allowed = {f"http://{host}" for host in self._hosts}
        origins = [value for name, value in headers if name == b"origin"]
        return len(hosts) == 1 and hosts[0] in self._hosts and allowed.issuperset(origins)

    def _is_entry(self, scope: Scope) -> bool:
        """Whether this is the first address, which carries the token."""
        if scope["type"] != "http" or scope["path"] != "/" or scope["method"] != "GET":
            return False
        name, _, token = scope["query_string"].decode("latin-1").partition("=")
        return name == "token" and self._is_token(token)

    def _is_token(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self._token.encode())

    def _tokens(self, headers: list[tuple[bytes, str]]) -> list[str]:
        found = []
        for name, value in headers:
            if name == b"authorization" and value.startswith("Bearer "):
                found.append(value.removeprefix("Bearer "))
            elif name == b"cookie":
                try:
                    morsel = SimpleCookie(value).get(self.cookie)
                except CookieError:
                    continue
                found += [morsel.value] if morsel else []
        return found

    def _with_headers(self, send: Send) -> Send:
        async def send_with(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", []), *_raw(self._headers)]
            await send(message)

        return send_with


def _too_long(name: bytes, value: str) -> bool:
    return name == b"content-length" and (not value.isdigit() or int(value) > MOST_BYTES)


def _raw(headers: dict[str, str]) -> list[tuple[bytes, bytes]]:
    return [(name.lower().encode(), value.encode("latin-1")) for name, value in headers.items()]
