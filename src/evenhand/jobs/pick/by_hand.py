"""What somebody has chosen: a few lines of TOML that overrule the figures."""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.errors import SettingError
from evenhand.jobs.pick.choose import WEIGHTS
from evenhand.sections import Sections
from evenhand.take import read_toml


@dataclass(frozen=True)
class ByHand:
    """What was chosen by hand.

    Attributes
    ----------
    take : mapping of str to (int or str)
        For a section by its name, or for bars (`17` or `17-20`), the number of a take (from 1) or
        its file name.
    weights : mapping of str to float
        What each figure counts (see `choose.WEIGHTS`).
    """

    take: Mapping[str, int | str] = field(default_factory=dict)
    weights: Mapping[str, float] = field(default_factory=lambda: dict(WEIGHTS))


def read_by_hand(path: Path) -> ByHand:
    """Read a choice file.

    Raises
    ------
    DiskError
        If it can't be read.
    SettingError
        If it is no choice file; the message names the key.
    """
    tables = read_toml(path)
    try:
        return parse_by_hand(tables)
    except SettingError as error:
        raise SettingError(f"{path}: {error}") from None


def parse_by_hand(tables: Mapping[str, Any]) -> ByHand:
    """Check the tables of a choice file (see `read_by_hand`)."""
    for name, table in tables.items():
        if name not in ("take", "weight") or not isinstance(table, dict):
            raise SettingError(f"unknown table {name!r}; there are [take] and [weight]")
    take = tables.get("take", {})
    for key, value in take.items():
        if isinstance(value, bool) or not isinstance(value, int | str):
            raise SettingError(f"take: {key!r} wants the number of a take or its name")
    weights = dict(WEIGHTS)
    for key, value in tables.get("weight", {}).items():
        if key not in WEIGHTS:
            raise SettingError(f"weight: unknown figure {key!r}; there are {', '.join(WEIGHTS)}")
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        if not plain or not 0 <= value < math.inf:
            raise SettingError(f"weight: {key} is {value!r}, not a number from 0 up")
        weights[key] = float(value)
    return ByHand(take, weights)


def divide(
    found: Sections, by_hand: ByHand, names: Sequence[str]
) -> tuple[dict[int, str], dict[int, int]]:
    """The sections with those bars set apart that somebody has chosen a take for.

    Parameters
    ----------
    found : Sections
    by_hand : ByHand
    names : sequence of str
        Of the takes.

    Returns
    -------
    sections : dict of int to str
        Names by first bar.
    wanted : dict of int to int
        The take (from 0) that is wanted for a section, by its index.

    Raises
    ------
    SettingError
        If a section or a take is not there.
    """
    sections = dict(zip(found.bar.tolist(), found.labels, strict=True))
    spans: list[tuple[int, int, int]] = []
    for key, value in by_hand.take.items():
        take = _take(value, names)
        bars = re.fullmatch(r"([0-9]{1,9})(?:-([0-9]{1,9}))?", key.strip())
        if key in found.labels:
            index = found.labels.index(key)
            last = found.bar[index + 1] - 1 if index + 1 < len(found) else _FAR
            spans.append((int(found.bar[index]), int(last), take))
        elif bars:
            first, last = int(bars[1]), int(bars[2] or bars[1])
            if not 1 <= first <= last:
                raise SettingError(f"take: {key!r} is no stretch of bars; write first-last")
            spans.append((first, last, take))
        else:
            raise SettingError(
                f"take: there is no section {key!r}; there are {', '.join(found.labels)}, "
                "or write bars such as 17-20"
            )
    for first, last, _ in spans:
        for bar in (first, last + 1):
            if bar not in sections and bar < _FAR:
                index = max(int(np.searchsorted(found.bar, bar, side="right")) - 1, 0)
                sections[bar] = f"{found.labels[index]} from {bar}"
    wanted: dict[int, int] = {}
    for index, bar in enumerate(sorted(sections)):
        for first, last, take in spans:
            if first <= bar <= last:
                if wanted.get(index, take) != take:
                    raise SettingError(f"take: bar {bar} is given to two takes")
                wanted[index] = take
    return sections, wanted


#: A bar behind any song.
_FAR = 10**9


def _take(value: int | str, names: Sequence[str]) -> int:
    if isinstance(value, int):
        if not 1 <= value <= len(names):
            raise SettingError(f"take: there is no take {value}; there are 1 to {len(names)}")
        return value - 1
    fits = [
        index
        for index, name in enumerate(names)
        if value in (name, Path(name).name, Path(name).stem)
    ]
    if len(fits) != 1:
        raise SettingError(
            f"take: {value!r} is {'two' if fits else 'none'} of the takes {', '.join(names)}"
        )
    return fits[0]
