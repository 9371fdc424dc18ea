"""The pages that are open on a session: their wishes in, what came of them out to all.

Everything but the working out happens in one thread, so nothing is altered under anybody's hands.
"""

import asyncio
import json
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from starlette.websockets import WebSocket, WebSocketDisconnect

from evenhand.errors import EvenhandError, SettingError
from evenhand.review.edges import ExistsError
from evenhand.review.state import Undoable, changed

if TYPE_CHECKING:
    from evenhand.review.session import Done, Session


class Hub:
    """Joins pages to a session.

    Parameters
    ----------
    opening : future of Session
        Pages may come before it is there.
    alone : callable
        Called with whether all pages have said goodbye, whenever that changes.
    """

    def __init__(self, opening: "asyncio.Future[Session]", alone: Callable[[bool], None]) -> None:
        self._opening, self._alone = opening, alone
        self._hoped: Undoable | None = None
        self._pages: set[WebSocket] = set()
        self._asked: list[tuple[WebSocket, int]] = []
        self._working: asyncio.Task[None] | None = None
        self._disk = asyncio.Lock()

    @property
    def _session(self) -> "Session":
        return self._opening.result()

    @property
    def _wanted(self) -> Undoable:
        """What the pages want; at first what there is."""
        return self._hoped or self._session.done.history

    async def talk(self, page: WebSocket) -> None:
        """Serve one page until it goes."""
        await page.accept()
        try:
            await asyncio.shield(self._opening)
        except EvenhandError as error:
            await _tell(page, {"kind": "refused", "answers": 0, "text": str(error)})
            return
        self._pages.add(page)
        self._alone(False)
        done = self._session.done
        data = {**self._session.fixed, **done.data}
        bye = False
        try:
            await _tell(page, {"kind": "all", "number": done.number, "data": data})
            while True:
                text = await page.receive_text()
                bye = await self._hear(page, text)
        except (WebSocketDisconnect, KeyError, RuntimeError):
            # Gone; or it sent bytes, which is no way to talk.
            pass
        finally:
            self._pages.discard(page)
            if bye and not self._pages:
                self._alone(True)

    async def _hear(self, page: WebSocket, text: str) -> bool:
        """Take in one message; says whether it is a goodbye."""
        asked = 0
        try:
            change, asked = _read(text)
            if change.get("op") == "bye":
                return True
            if change.get("op") == "keep":
                await self._keep(page, asked, change.get("replace") is True)
                return False
            self._hoped = changed(self._wanted, change)
        except ExistsError as error:
            await _tell(page, {"kind": "exists", "answers": asked, "text": str(error)})
            return False
        except EvenhandError as error:
            await _tell(page, {"kind": "refused", "answers": asked, "text": str(error)})
            return False
        self._asked.append((page, asked))
        if self._working is None or self._working.done():
            self._working = asyncio.create_task(self._work())
        return False

    async def _work(self) -> None:
        """Work out the newest wish until there is none that is newer."""
        while self._asked:
            wanted, asked = self._wanted, self._asked
            self._asked = []
            before = self._session.done
            async with self._disk:
                try:
                    done = await asyncio.to_thread(self._session.advance, wanted)
                except EvenhandError as error:
                    # Back to what holds; what was wished on top of it goes as well.
                    self._hoped = before.history
                    refused = [*asked, *self._asked]
                    self._asked = []
                    for page, number in refused:
                        told = {"kind": "refused", "answers": number, "text": str(error)}
                        await _tell(page, told)
                    continue
            await self._publish(before, done, asked)

    async def _publish(
        self, before: "Done", done: "Done", asked: list[tuple[WebSocket, int]]
    ) -> None:
        told = {"kind": "changed", "number": done.number, "data": _difference(before, done)}
        for page in list(self._pages):
            answers = [number for one, number in asked if one is page]
            await _tell(page, {**told, "answers": answers})

    async def _keep(self, page: WebSocket, asked: int, replacing: bool) -> None:
        if self._working is not None:
            await self._working
        async with self._disk:
            before = self._session.done
            kept = await asyncio.to_thread(self._session.keep, replacing)
        await self._publish(before, self._session.done, [])
        await _tell(page, {"kind": "kept", "answers": asked, "text": kept.text})


def _read(text: str) -> tuple[Mapping[str, Any], int]:
    try:
        change = json.loads(text)
    except (ValueError, RecursionError):
        raise SettingError("that is no JSON") from None
    number = change.get("id") if isinstance(change, dict) else None
    if not isinstance(change, dict) or isinstance(number, bool) or not isinstance(number, int):
        raise SettingError("a change is an object with a whole number as its id")
    return change, number


def _difference(before: "Done", done: "Done") -> dict[str, Any]:
    """What differs; of the hits, the columns that do."""
    old, new = before.data, done.data
    data = {
        name: value
        for name, value in new.items()
        if value is not old.get(name) and value != old.get(name)
    }
    if "hits" in data:
        columns = old["hits"]
        data["hits"] = {
            name: value for name, value in data["hits"].items() if value != columns.get(name)
        }
    return data


async def _tell(page: WebSocket, message: Mapping[str, Any]) -> None:
    try:
        await page.send_text(json.dumps(message, allow_nan=False, separators=(",", ":")))
    except (WebSocketDisconnect, RuntimeError):
        # It went meanwhile; whoever listens to it finds out.
        return
