"""What `tighten` needs to put a pass on record, and to start from one."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from evenhand.cli import options
from evenhand.cli.guard import UsageError

if TYPE_CHECKING:
    from evenhand.passes import Pass
    from evenhand.take import Take
    from evenhand.tightener import Result


@dataclass(frozen=True)
class Recording:
    """Where a run is recorded, and from which pass it starts.

    Attributes
    ----------
    take : str
        The take's name as given.
    output : Path or None
        Where the tightened take goes; None for standard output.
    folder : Path or None
        The folder of passes; None where nothing is recorded.
    note : str
    start : int or None
        The pass to start from, 0 for the original on record; None for the take itself.
    """

    take: str
    output: Path | None
    folder: Path | None
    note: str
    start: int | None

    def load(self) -> "Take":
        """Read what the run starts from."""
        if self.start is None:
            return options.load_take(self.take)

        from evenhand.passes import original_of, output_of, read_history
        from evenhand.take import Take

        history = read_history(_folder_of(self.take, self.output, self.start))
        if not self.start:
            return Take.from_bytes(original_of(history), f"the original of {self.take}")
        data = output_of(history, history.get(self.start))
        return Take.from_bytes(data, f"pass {self.start} of {self.take}")

    def run(
        self, write: Callable[[], None], source: "Take", result: "Result", data: bytes, log: bytes
    ) -> "Pass | None":
        """Write the outputs; and record the pass, if it is to be recorded."""
        if not self.folder or not self.output:
            write()
            return None

        from evenhand.passes import Draft, record
        from evenhand.recipe import named_files
        from evenhand.take import read_bytes

        kit = result.recipe.kit
        draft = Draft(
            result=result,
            source=source.to_bytes(),
            output=data,
            changes=log,
            take=_stem_source(self.take, self.output).name,
            wrote=_relative(self.output, self.folder.parent),
            when=_now(),
            note=self.note,
            start=self.start or 0,
            kit=read_bytes(Path(kit)) if kit.endswith(".toml") else None,
            beside={
                name: read_bytes(Path(path)) for name, path in named_files(result.recipe).items()
            },
        )
        return record(self.folder, draft, write)

    def words(self, recorded: "Pass | None") -> list[str]:
        """Which pass it is now, for the summary."""
        return [f"{self.folder}: pass {recorded.number}"] if recorded else []

    def names(self, recorded: "Pass | None") -> dict[str, str | int | None]:
        """The same for machines."""
        if not recorded:
            return {"passes": None, "pass": None}
        return {"passes": str(self.folder), "pass": recorded.number}


def plan_recording(
    take: str, output: Path | None, record: bool, note: str, start: int | None
) -> Recording:
    """Settle where a run is recorded: beside its output, named after the take.

    A run on standard output is not recorded; nor is one that is told so.
    """
    if note and (not record or not output):
        raise UsageError("--note goes with a record, and this run makes none (see --no-record, -o)")
    if start is not None and take == options.STANDARD:
        raise UsageError("--from takes a pass of a named take; standard input has none on record")
    folder = _folder_of(take, output, start) if record and output else None
    return Recording(take, output, folder, note, start)


def _folder_of(take: str, output: Path | None, start: int | None) -> Path:
    """The folder of passes: beside the output.

    But a run that starts from a pass stays with it: where only the take has a folder, there.
    """
    from evenhand.passes import folder_beside

    source = _stem_source(take, output)
    folder, own = (folder_beside(path, source.stem) for path in (output or source, source))
    return own if start is not None and not folder.is_dir() and own.is_dir() else folder


def _stem_source(take: str, output: Path | None) -> Path:
    """What names the folder: the take, or the output where the take came through a pipe."""
    return Path(take) if take != options.STANDARD or not output else output


def _relative(path: Path, folder: Path) -> str:
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:
        return path.name


def _now() -> datetime:
    """The time, or the one that SOURCE_DATE_EPOCH sets (reproducible-builds.org)."""
    try:
        return datetime.fromtimestamp(int(os.environ["SOURCE_DATE_EPOCH"]), UTC)
    except (KeyError, ValueError, OverflowError, OSError):
        return datetime.now(UTC)
