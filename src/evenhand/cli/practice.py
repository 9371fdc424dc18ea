"""`evenhand practice`: figures of practice takes, and how they run over days."""

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import REFUSED, UsageError, guarded
from evenhand.cli.progress import TakesBar
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command

_EXAMPLES = """\
Examples:

  evenhand practice takes                        practice.html and its tables, here

  evenhand practice takes -o notes --overwrite   the same into a folder of its own

  evenhand practice takes --since 2026-11-01 --json
"""

#: From this many takes on, a terminal shows how far it is.
_MANY = 10


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(practice)


@guarded
@takes_settings("grid", "swing", "latency", "ghost_below", "kit", "channel")
def practice(
    folders: Annotated[
        list[Path],
        typer.Argument(
            metavar="FOLDER...", help="Folders with takes, and those below them.", readable=False
        ),
    ],
    output: Annotated[
        Path,
        typer.Option(
            "--output",
            "-o",
            metavar="FOLDER",
            help="Where the page and the tables go; made if it is not there.",
            show_default="here",
        ),
    ] = Path(),
    since: Annotated[
        str | None,
        typer.Option(metavar="DAY", help="Only what was played on this day or later."),
    ] = None,
    tempo_step: Annotated[
        int,
        typer.Option(metavar="BPM", help="Takes within so many bpm are compared with each other."),
    ] = 20,
    *,
    settings: Given,
    recipe: options.RecipeFile = None,
    workers: Annotated[
        int | None,
        typer.Option(metavar="N", help="Processes.", show_default="one per core"),
    ] = None,
    listen: Annotated[
        bool, typer.Option("--listen", help="A listening page for each take as well.")
    ] = False,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Show a drummer's takes over days: what is steady, what changes, what to work on."""
    passing = settings.recipe(recipe)
    if not 1 <= tempo_step <= 400:
        raise UsageError(f"--tempo-step: {tempo_step} is not from 1 to 400 bpm")
    if workers is not None and not 1 <= workers <= 256:
        raise UsageError(f"--workers: {workers} is not from 1 to 256")

    from evenhand.errors import SettingError
    from evenhand.jobs.practice import (
        as_json,
        check_output,
        gather,
        make_report,
        measure_all,
        page,
        parse_day,
        write_listening,
        write_output,
    )
    from evenhand.jobs.workers import cores
    from evenhand.paper import show

    try:
        day = parse_day(since) if since is not None else None
    except SettingError as error:
        raise UsageError(f"--since: {error}") from None
    passing.load_kit()
    check_output(output, overwrite, listen)
    gathered = gather(folders, day)
    with _progress(len(gathered.takes)) as tell:
        played = measure_all(gathered.takes, passing, tempo_step, workers or cores(), tell)
    report = make_report(gathered, played)
    pages = write_listening(report, output, passing, overwrite) if listen else {}
    written = write_output(report, output, overwrite, pages)
    if json_out:
        typer.echo(json.dumps(as_json(report, written)))
    elif not quiet:
        show(page(report, written))
    if report.failed:
        raise typer.Exit(REFUSED)


@contextmanager
def _progress(takes: int) -> Iterator[Callable[[], None]]:
    """A bar on a terminal, if there are many takes; nothing elsewhere."""
    if takes < _MANY or not sys.stderr.isatty():
        yield lambda: None
        return
    with TakesBar(takes) as bar:
        yield bar.advance
