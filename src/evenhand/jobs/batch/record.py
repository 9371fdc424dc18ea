"""The record of a take in a batch: what was done to it, with which settings, and to which bytes.

It lies beside the tightened take and is written last, so a take is done when its record says so
and the files are what it says. No time stands in it: the same take, recipe and version give the
same bytes.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path, PurePosixPath
from typing import Any

from evenhand import __version__
from evenhand.errors import DiskError
from evenhand.passes import clean
from evenhand.recipe import Recipe, named_files, recipe_toml, with_files
from evenhand.take import read_bytes

#: Version of the record; one that an older evenhand would misread gets a new number.
SCHEMA = 2

#: What stands where files are being replaced: both the old and the new ones are ours.
REPLACING, DONE = "replacing", "done"


@dataclass(frozen=True)
class OutputNames:
    """Where the results of a take lie, as paths inside the output folder."""

    midi: str
    changes: str
    record: str


def names_of(output: str) -> OutputNames:
    """The names that go with a tightened take."""
    midi = PurePosixPath(output)
    return OutputNames(
        output,
        str(midi.with_name(f"{midi.stem}.changes.csv")),
        str(midi.with_name(f"{midi.stem}.record.json")),
    )


def digest(data: bytes) -> str:
    """The SHA-256 as hexadecimal digits."""
    return sha256(data).hexdigest()


@dataclass(frozen=True)
class RecordKey:
    """What settles a result: the bytes of the take, the recipe (with its kit), the version.

    Attributes
    ----------
    take : str
        The name of the take.
    input, recipe : str
        SHA-256.
    version : str
        Of evenhand.
    """

    take: str
    input: str
    recipe: str
    version: str = __version__


def key_of(
    take: str, data: bytes, recipe: Recipe, kit: bytes | None, beside: Mapping[str, bytes]
) -> RecordKey:
    """The key of a take."""
    settings = plain_recipe(recipe, kit)
    text = recipe_toml(settings).encode() + b"\0" + (kit or b"")
    text += b"".join(digest(beside[name]).encode() for name in sorted(beside))
    return RecordKey(clean(take), digest(data), digest(text))


def plain_recipe(recipe: Recipe, kit: bytes | None) -> Recipe:
    """The recipe without the folders of this machine."""
    names = {name: Path(path).name for name, path in named_files(recipe).items()}
    recipe = with_files(recipe, names)
    return recipe if kit is None else recipe.with_settings({"kit": Path(recipe.kit).name})


def write_record(about: dict[str, Any]) -> bytes:
    """A record as it lies on disk: JSON with a line for each key."""
    lines = [f"{json.dumps(key)}: {json.dumps(value)}" for key, value in about.items()]
    return ("{\n" + ",\n".join(lines) + "\n}\n").encode()


def read_record(path: Path) -> dict[str, Any] | None:
    """Read a record; None if there is none that can be read."""
    try:
        about = json.loads(read_bytes(path, follow=False))
    except (DiskError, ValueError, RecursionError):
        return None
    sound = isinstance(about, dict) and about.get("schema") == SCHEMA
    return about if sound and isinstance(about.get("files"), dict) else None


def is_done(about: dict[str, Any] | None, key: RecordKey, folder: Path, names: OutputNames) -> bool:
    """Whether a record tells of this very result, and the files are what it says."""
    if about is None or about.get("state") != DONE or about.get("key") != vars(key):
        return False
    return all(
        is_file(folder / name, about["files"].get(what))
        for what, name in (("midi", names.midi), ("changes", names.changes))
    )


def is_file(path: Path, sha: object) -> bool:
    """Whether a file is there and has this SHA-256."""
    try:
        return path.is_file() and digest(read_bytes(path)) == sha
    except DiskError:
        return False
