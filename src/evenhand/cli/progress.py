"""The bar that shows how far work on many takes has come."""

from contextlib import ExitStack
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress


class TakesBar:
    """A bar on standard error, gone at the end; it appears when the first take is ready.

    Not before: by then all workers have been started, and a process with threads, as the bar
    brings one, had better not fork.

    Parameters
    ----------
    takes : int
        How many there are.
    """

    def __init__(self, takes: int) -> None:
        self._takes = takes
        self._stack = ExitStack()
        self._bar: Progress | None = None

    def __enter__(self) -> "TakesBar":
        return self

    def __exit__(self, *error: object) -> None:
        self._stack.close()

    def advance(self, failed: int = 0) -> None:
        """One take more is ready; `failed` of all so far."""
        if not self._bar:
            self._bar = self._stack.enter_context(_bar(self._takes))
        task = self._bar.tasks[0]
        rate = (task.completed + 1) / (task.elapsed or 1)
        self._bar.update(task.id, advance=1, rate=rate, failed=failed)


def _bar(takes: int) -> "Progress":
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    progress = Progress(
        TextColumn("takes"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[rate]:.1f} a second"),
        TimeRemainingColumn(),
        TextColumn("{task.fields[failed]} failed"),
        console=Console(stderr=True),
        transient=True,
    )
    progress.add_task("takes", total=takes, rate=0.0, failed=0)
    return progress
