"""A batch from its takes to its tables."""

import contextlib
from bisect import bisect_left
from collections.abc import Generator, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from evenhand.errors import DiskError, EvenhandError
from evenhand.jobs.batch.answer import answer, read_answer
from evenhand.jobs.batch.inputs import Source
from evenhand.jobs.batch.one import Task
from evenhand.jobs.batch.order import (
    TO_DO,
    BatchSettings,
    Outcome,
    begin,
    do_all,
    failed,
    finish,
    settled,
)
from evenhand.jobs.batch.over_all import Spool, write_csv
from evenhand.jobs.batch.rows import COLUMNS, empty_row, failed_row
from evenhand.jobs.batch.table_page import MARK, write_page
from evenhand.jobs.workers import Executor
from evenhand.passes import locked
from evenhand.take import make_folder, read_bytes, why, write_files

_ROWS = "rows"

#: How long workers of a batch that was killed may still be about, seconds.
_PATIENCE = 2.0


def run_batch(
    takes: Sequence[Source],
    settings: BatchSettings,
    executor: Executor,
    table: str = "batch",
    unreadable: Mapping[str, str] | None = None,
) -> Generator[Outcome, None, None]:
    """Tighten takes and write the tables.

    Parameters
    ----------
    takes : sequence of Source
        In the order of their names.
    settings : BatchSettings
    executor : Executor
    table : str
        What the tables are called, without their suffix.
    unreadable : mapping of str to str
        What could not even be looked at, and why; it stands at the end of the tables.

    Yields
    ------
    Outcome
        Of each take, as it is ready. The tables are written after the last.

    Raises
    ------
    DiskError
        If the output folder can't be written to, another batch is at work in it, or the disk is
        full; what is done stays done.
    """
    unreadable = unreadable or {}
    if not settings.overwrite:
        _check_tables(settings.folder, table)
    make_folder(settings.folder)
    with (
        _workshop(settings.folder / f".{table}") as staging,
        Spool(staging / _ROWS, len(takes) + len(unreadable)) as rows,
    ):
        for number, (name, reason) in enumerate(sorted(unreadable.items()), len(takes)):
            rows.put(number, failed_row(name, reason))
        settings = replace(settings, staging=staging)
        for source, outcome in _outcomes(takes, settings, executor):
            rows.put(bisect_left(takes, source), outcome.row)
            yield outcome
            if outcome.hopeless:
                why_not = outcome.row["reason"]
                raise DiskError(f"{why_not}; see to it, and the same command goes on from here")
        tables = {
            settings.folder / f"{table}.csv": partial(write_csv, rows),
            settings.folder / f"{table}.html": partial(write_page, rows, settings.folder),
        }
        write_files(tables, overwrite=True, staging=staging)


def _check_tables(folder: Path, table: str) -> None:
    """Refuse tables that would replace somebody's file of that name."""
    for suffix, mark in ((".csv", ",".join(COLUMNS[:3])), (".html", MARK)):
        path = folder / f"{table}{suffix}"
        if path.exists() and mark.encode() not in read_bytes(path)[:2000]:
            raise DiskError(
                f"{path} is there and not the table of a batch; move it away, name another folder "
                "with -o, or give --overwrite to replace it"
            )


def look_ahead(takes: Sequence[Source], settings: BatchSettings) -> Generator[Outcome, None, None]:
    """What `run_batch` would have to do, without doing it."""
    for source in takes:
        task = settled(source, partial(begin, source, settings))
        yield task if isinstance(task, Outcome) else Outcome(TO_DO, empty_row(source.name))


def _outcomes(
    takes: Sequence[Source], settings: BatchSettings, executor: Executor
) -> Iterator[tuple[Source, Outcome]]:
    if executor.shares_disk:
        for source, result in executor.run(partial(do_all, settings=settings), takes):
            yield source, result if isinstance(result, Outcome) else _stumbled(source, result)
        return
    no_work: list[tuple[Source, Outcome]] = []

    def tasks() -> Iterator[Task]:
        for source in takes:
            task = settled(source, partial(begin, source, settings))
            if isinstance(task, Outcome):
                no_work.append((source, task))
            else:
                yield task

    for task, data in executor.run(answer, tasks()):
        if isinstance(data, BaseException):
            yield task.source, _stumbled(task.source, data)
            continue
        made = settled(task.source, partial(read_answer, data, task))
        if isinstance(made, Outcome):
            yield task.source, made
        else:
            work = partial(finish, task.source, settings, task, made)
            yield task.source, settled(task.source, work)
        while no_work:
            yield no_work.pop()
    yield from no_work


def _stumbled(source: Source, error: BaseException) -> Outcome:
    """An error that came out of a worker."""
    if isinstance(error, EvenhandError):
        return failed(source, str(error))
    return failed(source, f"evenhand stumbled over it ({type(error).__name__}: {error})")


@contextlib.contextmanager
def _workshop(folder: Path) -> Iterator[Path]:
    """A folder for files in the making, for this batch alone; what a crash left in it goes."""
    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(locked(folder, _PATIENCE))
            _clear(folder)
        except OSError as error:
            raise DiskError(f"{folder} can't be written: {why(error)}") from error
        stack.callback(_clear, folder)
        yield folder


def _clear(folder: Path) -> None:
    for left in folder.iterdir():
        if left.name == _ROWS or left.suffix == ".part":
            left.unlink()
