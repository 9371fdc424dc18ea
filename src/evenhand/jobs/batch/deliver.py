"""The results of a take on disk: which files may be replaced, and in what order they appear.

A crash between two of the three files must leave something that the next run can tell from what
somebody else has put there. So the record comes last; and where files are replaced, a record that
names the old and the new ones comes first.
"""

from pathlib import Path
from typing import Any

from evenhand.errors import DiskError
from evenhand.jobs.batch.one import Made
from evenhand.jobs.batch.record import (
    REPLACING,
    SCHEMA,
    OutputNames,
    RecordKey,
    digest,
    read_record,
    write_record,
)
from evenhand.take import make_folder, read_bytes, write_files


def deliver(
    made: Made,
    key: RecordKey,
    folder: Path,
    names: OutputNames,
    staging: Path | None = None,
    overwrite: bool = False,
) -> None:
    """Write the three files of a take.

    Parameters
    ----------
    made : Made
    key : RecordKey
    folder : Path
        The output folder.
    names : OutputNames
        The files in it.
    staging : Path, optional
        Where files are made; if not given, where they will be.
    overwrite : bool
        Whether files that no record accounts for are replaced.

    Raises
    ------
    DiskError
        If a file is there that is not ours, or one can't be written.
    """
    files = {
        folder / names.midi: made.midi,
        folder / names.changes: made.changes,
        folder / names.record: write_record(made.about),
    }
    about = read_record(folder / names.record)
    old = _what_is_there(files, about)
    if old:
        if not overwrite:
            _check_ours(old, about, key, folder / names.record)
        first = {"schema": SCHEMA, "state": REPLACING, "key": vars(key)}
        new = [digest(made.midi), digest(made.changes)]
        first["files"] = {"all": sorted({*new, *old.values()})}
        write_files({folder / names.record: write_record(first)}, True, staging)
    make_folder((folder / names.midi).parent)
    write_files(files, True, staging, tied=[folder / names.changes])


def _what_is_there(files: dict[Path, bytes], about: dict[str, Any] | None) -> dict[Path, str]:
    """The files that would be replaced by others, with their hashes."""
    there = {}
    for path, data in list(files.items())[: 2 if about else 3]:
        if path.is_file() or path.is_symlink():
            sha = digest(read_bytes(path))
            if sha != digest(data):
                there[path] = sha
    return there


def _check_ours(
    old: dict[Path, str], about: dict[str, Any] | None, key: RecordKey, record: Path
) -> None:
    """Refuse to replace what the record does not account for."""
    ours: set[object] = set()
    if about and isinstance(about.get("key"), dict) and about["key"].get("take") == key.take:
        for value in about["files"].values():
            ours |= set(value) if isinstance(value, list) else {value}
    for path, sha in old.items():
        if sha not in ours:
            what = "was changed since it was written" if about else "is there already"
            raise DiskError(
                f"{path} {what}, and {record.name} does not account for it; move it away, or give "
                "--overwrite to replace it"
            )
