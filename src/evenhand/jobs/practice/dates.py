"""When a take was played: said in a TOML file, in its name, or by the file's own date."""

import datetime as dt
import re
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from evenhand.errors import DiskError, SettingError
from evenhand.take import read_toml

#: The file that may lie in a practice folder.
TOML = "practice.toml"

SAID, NAMED, OF_FILE = TOML, "name", "file date"

_DATE = re.compile(
    r"(?<![0-9])(?P<year>(?:19|20)[0-9]{2})(?P<dash>[-_.]?)(?P<month>[0-9]{2})(?P=dash)"
    r"(?P<day>[0-9]{2})"
    r"(?:[T _-]?(?P<hour>[0-9]{2})[-:.h_]?(?P<minute>[0-9]{2})(?:[-:.m_]?(?P<second>[0-9]{2}))?)?"
    r"(?![0-9])"
)


@dataclass(frozen=True)
class Said:
    """What `practice.toml` says.

    Attributes
    ----------
    dates : dict of str to datetime
        By the path of a take (or a folder) in the folder, with `/`.
    names : dict of str to str
        What to call a take.
    """

    dates: dict[str, dt.datetime] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)


def read_said(folder: Path) -> Said:
    """Read the `practice.toml` of a folder; nothing is said where there is none.

    Raises
    ------
    SettingError
        If it is not as it should be.
    DiskError
        If it can't be read.
    """
    path = folder / TOML
    if not path.exists():
        return Said()
    tables = read_toml(path)
    strange = sorted(set(tables) - {"dates", "names"})
    if strange:
        raise SettingError(f"{path}: {strange[0]!r} is not known; there are [dates] and [names]")
    for name, table in tables.items():
        if not isinstance(table, dict):
            raise SettingError(f"{path}: {name} must be a table, [{name}]")
    dates = {key: _date(path, key, value) for key, value in tables.get("dates", {}).items()}
    names = tables.get("names", {})
    for key, value in names.items():
        if not isinstance(value, str) or not value:
            raise SettingError(f"{path}: the name of {key!r} must be text")
    return Said(dates, names)


def _date(path: Path, key: str, value: Any) -> dt.datetime:
    if isinstance(value, str):
        found = date_in(value)
        if found:
            return found
    elif isinstance(value, dt.datetime):
        return value.replace(tzinfo=None, microsecond=0)
    elif isinstance(value, dt.date):
        return dt.datetime(value.year, value.month, value.day)
    raise SettingError(f"{path}: the date of {key!r} must be a date such as 2026-11-03")


def date_in(text: str) -> dt.datetime | None:
    """The first date in a text: `2026-11-03`, `20261103`, with a time behind it or without.

    Examples
    --------
    >>> date_in("take 2026-11-03 18-30")
    datetime.datetime(2026, 11, 3, 18, 30)
    """
    for match in _DATE.finditer(text):
        year, month, day, hour, minute, second = (
            int(match[name] or 0) for name in ("year", "month", "day", "hour", "minute", "second")
        )
        try:
            midnight = dt.datetime(year, month, day)
        except ValueError:
            continue
        # What stands behind the day may be no time; the day still counts.
        a_time = hour < 24 and minute < 60 and second < 60
        return midnight.replace(hour=hour, minute=minute, second=second) if a_time else midnight
    return None


def parse_day(text: str) -> dt.date:
    """Read a day such as `2026-11-03`.

    Raises
    ------
    SettingError
        If it is none.
    """
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise SettingError(f"{text!r} is not a day such as 2026-11-03") from None


def when_played(inside: str, said: Said, modified: float) -> tuple[dt.datetime, str]:
    """Tell when a take was played, and how that is known.

    The TOML file comes first, then the file's own name, then its folders from the inside out,
    and last the file's own date.

    Parameters
    ----------
    inside : str
        The path in the folder, with `/`.
    said : Said
    modified : float
        The file's date, seconds since 1970; it is read as universal time, so that the same files
        give the same days everywhere.

    Returns
    -------
    when : datetime
    source : str
        `practice.toml`, `name` or `file date`.
    """
    path = PurePosixPath(inside)
    for part in (path, *path.parents):
        if str(part) in said.dates:
            return said.dates[str(part)], SAID
    for name in (path.stem, *reversed(path.parent.parts)):
        found = date_in(name)
        if found:
            return found, NAMED
    try:
        return dt.datetime.fromtimestamp(int(modified), dt.UTC).replace(tzinfo=None), OF_FILE
    except (OverflowError, ValueError, OSError):
        raise DiskError(f"the date of the file makes no sense ({modified:g})") from None
