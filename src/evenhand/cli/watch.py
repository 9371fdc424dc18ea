"""`evenhand watch`: takes tightened as they arrive in a folder."""

import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command

if TYPE_CHECKING:
    from collections import Counter

    from evenhand.jobs.watch import Arrived, Waits

_EXAMPLES = """\
Examples:

  evenhand watch session                         what is saved there goes to session/tight

  evenhand watch session -o tight --recipe song.toml

Ctrl-C ends it. A file counts when it has been still for two seconds and reads whole. Results, their
record and the tables are those of evenhand batch, and either goes on where the other stopped.
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(watch)


@guarded
@takes_settings()
def watch(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where an e-kit or a recorder saves takes.")
    ],
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FOLDER",
            help="Where all results go.",
            show_default="FOLDER/tight",
        ),
    ] = None,
    recipe: options.RecipeFile = None,
    *,
    settings: Given,
    json_lines: Annotated[
        bool, typer.Option("--json-lines", help="Print one JSON object per take.")
    ] = False,
    overwrite: Annotated[
        bool,
        typer.Option("--overwrite", help="Replace files in the way that are not of a batch."),
    ] = False,
    quiet: options.Quiet = False,
) -> None:
    """Tighten what is saved into a folder as it arrives; Ctrl-C ends it."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    passing = settings.recipe(recipe)

    from collections import Counter

    from evenhand.errors import DiskError
    from evenhand.jobs.batch import BatchSettings
    from evenhand.jobs.watch import wake_ups
    from evenhand.jobs.watch import watch as watch_folder
    from evenhand.jobs.workers import Workers

    passing.load_kit()
    if not folder.is_dir():
        raise DiskError(f"{folder} is no folder; name the one that takes are saved into")
    into = output or folder / "tight"
    for_all = BatchSettings(into, passing, settings.values, overwrite=overwrite)
    if not (quiet or json_lines):
        _say(f"watching {folder}, results go to {into}; Ctrl-C ends it")
    count: Counter[str] = Counter()
    try:
        for event in watch_folder(folder, for_all, Workers(1), wake_ups(folder)):
            _tell(event, count, json_lines, quiet)
    except KeyboardInterrupt:
        # The usual end, not an accident.
        pass
    _sum_up(count, into, json_lines, quiet)


def _tell(event: "Arrived | Waits", count: "Counter[str]", json_lines: bool, quiet: bool) -> None:
    from evenhand.cli.batch_words import told
    from evenhand.jobs.watch import Waits

    if isinstance(event, Waits):
        if json_lines:
            typer.echo(
                json.dumps({"take": event.source.name, "state": "waits", "reason": event.reason})
            )
        elif not quiet:
            _say(f"waits: {event.source.name}: {event.reason}")
    else:
        count[event.outcome.state] += 1
        if json_lines:
            typer.echo(json.dumps({**event.outcome.row, "state": event.outcome.state}))
        elif not quiet:
            _say(told(event.outcome))
    sys.stdout.flush()


def _sum_up(count: "Counter[str]", into: Path, json_lines: bool, quiet: bool) -> None:
    if json_lines:
        typer.echo(json.dumps({"watch": dict(count), "tables": str(into / "batch")}))
    elif not quiet:
        counted = ", ".join(f"{number} {state}" for state, number in sorted(count.items()))
        _say(f"ended: {counted or 'nothing arrived'}")


def _say(text: str) -> None:
    from evenhand.paper import printable

    typer.echo(printable(text))
    sys.stdout.flush()
