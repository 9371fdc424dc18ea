"""What was said of the flags that were listened to: `take.heard.toml` beside the take."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from evenhand.errors import SettingError
from evenhand.take import read_bytes

#: What can be said of a flag: it sounds right, it was left as played, it was nudged, it waits.
VERDICTS = ("right", "left", "nudged", "waits")

_MOST_MARKS = 10_000


@dataclass(frozen=True)
class SpokenMark:
    """What was said of one flag.

    Attributes
    ----------
    key : str
        Which flag.
    verdict : str
        One of `VERDICTS`.
    kind, place, text : str
        As the flag said it, because a decision can make it go away.
    hit : int
        Index of its first hit.
    ms : float
        Where to listen.
    """

    key: str
    verdict: str
    kind: str
    place: str
    text: str
    hit: int
    ms: float


def read_mark(table: Mapping[str, Any]) -> SpokenMark:
    """Check one mark, as the page sends it or a file holds it.

    Raises
    ------
    SettingError
        If a value makes no sense; the message names it.
    """
    texts: dict[str, str] = {}
    for name, longest in (("key", 200), ("kind", 60), ("place", 40), ("text", 1000)):
        text = table.get(name)
        if not isinstance(text, str) or len(text) > longest:
            raise SettingError(f"mark: {name}: {text!r} is not a short text")
        texts[name] = text
    verdict, hit, ms = table.get("as"), table.get("hit"), table.get("ms")
    if verdict not in VERDICTS:
        raise SettingError(f"mark: as: {verdict!r} is none of {', '.join(VERDICTS)}")
    if isinstance(hit, bool) or not isinstance(hit, int) or hit < 0:
        raise SettingError(f"mark: hit: {hit!r} is not the number of a hit")
    if isinstance(ms, bool) or not isinstance(ms, int | float) or not 0 <= ms < 1e9:
        raise SettingError(f"mark: ms: {ms!r} is not a time in ms")
    return SpokenMark(verdict=verdict, hit=hit, ms=float(ms), **texts)


def plain(mark: SpokenMark) -> dict[str, Any]:
    """A mark as the page reads it."""
    table = asdict(mark)
    return {"as" if name == "verdict" else name: value for name, value in table.items()}


def marks_toml(marks: Sequence[SpokenMark], take: str) -> bytes:
    """Write marks; `take` is the hash of the take that they are about."""
    import tomli_w

    head = "# What was said in `evenhand review` of the places to listen to.\n"
    tables = {"take": take, "heard": [plain(one) for one in marks]}
    return (head + tomli_w.dumps(tables)).encode("utf-8")


def read_marks(path: Path, take: str) -> tuple[SpokenMark, ...]:
    """Read marks; none if there is no file, or if it is about another take.

    Raises
    ------
    DiskError, SettingError
        If the file can't be read, or is none of ours.
    """
    if not path.exists():
        return ()
    try:
        table = tomllib.loads(read_bytes(path).decode("utf-8"))
        heard = table.get("heard", [])
        if table.get("take") != take or not isinstance(heard, list):
            return ()
        return tuple(read_mark(one) for one in heard[:_MOST_MARKS])
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, AttributeError) as error:
        raise SettingError(f"{path} is not TOML that evenhand wrote: {error}") from None
    except SettingError as error:
        raise SettingError(f"{path}: {error}") from None
