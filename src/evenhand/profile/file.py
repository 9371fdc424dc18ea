"""The habit as a small file that people can read and change (docs/songs.md)."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.errors import SettingError
from evenhand.profile.find import Profile
from evenhand.take import read_toml

#: Version of the file; one that an older evenhand would misread gets a new number.
SCHEMA = 1
_LARGEST_MS = 1000.0


def profile_toml(profile: Profile) -> bytes:
    """Write a profile: a head, and a line for each piece and place.

    Parameters
    ----------
    profile : Profile
    """
    import tomli_w

    head = {
        "schema": SCHEMA,
        "takes": list(profile.takes),
        "meter": profile.meter,
        "bpm": [round(one, 3) for one in profile.bpm],
        "swing": round(profile.swing, 1),
        "ms": round(profile.whole, 2),
    }
    lines = [
        "# A drummer's habit: where each piece usually lies at each place in the bar, ms from the",
        "# line (minus is early), how widely it scatters there, and how many hits that rests on.",
        "",
        tomli_w.dumps(head),
    ]
    for name in dict.fromkeys(profile.piece.tolist()):
        lines += [f"[[piece]]\nname = {tomli_w.dumps({'x': name})[4:]}places = ["]
        for index in np.flatnonzero(profile.piece == name).tolist():
            lines.append(
                f"  {{ beat = {profile.beat[index]:.4f}, ms = {profile.ms[index]:.2f}, "
                f"spread = {profile.spread[index]:.2f}, count = {int(profile.count[index])} }},"
            )
        lines += ["]", ""]
    return "\n".join(lines).encode()


def read_profile(path: str | Path) -> Profile:
    """Read a profile.

    Parameters
    ----------
    path : str or Path

    Raises
    ------
    DiskError
        If the file can't be read.
    SettingError
        If it is no profile; the message names what is wrong.
    """
    table = read_toml(Path(path))
    try:
        return parse_profile(table)
    except SettingError as error:
        raise SettingError(f"{path}: {error}") from None


def parse_profile(table: Mapping[str, Any]) -> Profile:
    """Check the tables of a profile (see `read_profile`).

    Parameters
    ----------
    table : mapping
        As TOML has it.
    """
    if table.get("schema") != SCHEMA:
        raise SettingError(
            "this is no habit file of this version; write one with `evenhand habit TAKE -o FILE`"
        )
    meter, takes = table.get("meter"), table.get("takes", [])
    if not isinstance(meter, str) or not re.fullmatch(r"[1-9][0-9]{0,2}/(1|2|4|8|16|32|64)", meter):
        raise SettingError(f"meter: {meter!r} is not a meter such as 4/4")
    if not isinstance(takes, list) or not all(isinstance(one, str) for one in takes):
        raise SettingError("takes: write a list of names")
    bpm = table.get("bpm")
    if not isinstance(bpm, list) or len(bpm) != 2:
        raise SettingError("bpm: write the slowest and the fastest, such as [96, 104]")
    rows = list(_rows(table.get("piece")))
    if not rows:
        raise SettingError("there is not one place in it")
    piece, beat, ms, spread, count = zip(*rows, strict=True)
    if len({(name, round(one * 48)) for name, one in zip(piece, beat, strict=True)}) < len(rows):
        raise SettingError("a place stands twice for one piece")
    return Profile(
        takes=tuple(takes),
        meter=meter,
        bpm=(_number("bpm", bpm[0], 1, 1000), _number("bpm", bpm[1], 1, 1000)),
        swing=_number("swing", table.get("swing"), 20, 80),
        whole=_number("ms", table.get("ms"), -_LARGEST_MS, _LARGEST_MS),
        piece=np.array(piece, np.str_),
        beat=np.array(beat),
        count=np.array(count, np.int64),
        ms=np.array(ms),
        spread=np.array(spread),
    )


def _rows(pieces: Any) -> Any:
    if not isinstance(pieces, list):
        raise SettingError("write tables, [[piece]], each with a name and places")
    for table in pieces:
        if not isinstance(table, dict) or not isinstance(table.get("name"), str):
            raise SettingError("piece: give it a name in quotes")
        name = table["name"]
        places = table.get("places")
        if not isinstance(places, list):
            raise SettingError(f"{name}: write places = [ {{ beat = 1, ms = -4, … }} ]")
        for one in places:
            if not isinstance(one, dict):
                raise SettingError(f"{name}: a place is a table, {{ beat = 1, ms = -4, … }}")
            yield (
                name,
                _number(f"{name}: beat", one.get("beat"), 1, 1000),
                _number(f"{name}: ms", one.get("ms"), -_LARGEST_MS, _LARGEST_MS),
                _number(f"{name}: spread", one.get("spread"), 0, _LARGEST_MS),
                int(_number(f"{name}: count", one.get("count"), 1, 10**9)),
            )


def _number(name: str, value: Any, low: float, high: float) -> float:
    sound = isinstance(value, int | float) and not isinstance(value, bool)
    if not sound or not low <= value <= high:
        raise SettingError(f"{name}: {value!r} is not a number from {low:g} to {high:g}")
    return float(value)
