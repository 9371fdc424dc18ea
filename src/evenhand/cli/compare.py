"""`evenhand compare`: what differs between two files of one performance."""

import json
import math
import sys
from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command

_EXAMPLES = """\
Examples:

  evenhand compare take.mid take-tight.mid

  evenhand compare take.mid edited-by-hand.mid --csv differences.csv

  evenhand compare one.mid other.mid --quiet && echo the same

  evenhand compare --habit drummer.habit.toml other.habit.toml

Ends with 0 when the two are the same performance to half a tick, with 3 when they differ.
"""

#: Exit code where the files differ; 1 says that one could not be read.
DIFFERENT = 3


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(compare)


@guarded
@takes_settings("kit", "channel")
def compare(
    one: Annotated[str, typer.Argument(metavar="A", help="Standard MIDI File; - for input.")],
    other: Annotated[str, typer.Argument(metavar="B", help="Another of the same performance.")],
    *,
    settings: Given,
    within: Annotated[
        float | None,
        typer.Option(
            metavar="MS",
            help="How far a hit may have been moved and still be the same hit.",
            show_default="150",
        ),
    ] = None,
    habit: Annotated[
        bool, typer.Option("--habit", help="A and B are habit files: put them side by side.")
    ] = False,
    table: Annotated[
        str | None,
        typer.Option("--csv", metavar="FILE", help="Every hit as CSV; - for standard output."),
    ] = None,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Match the hits of two files of one performance and report what differs.

    Either may have been made by anything. Hits may have been moved, added and dropped.
    """
    if within is not None and not (math.isfinite(within) and within > 0):
        raise UsageError(f"--within: {within:g} is not a number of ms above 0")
    if habit:
        if within is not None or table or settings.values:
            raise UsageError("--habit compares two habit files; it goes with --json and --quiet")
        _compare_habits(one, other, json_out, quiet)
        return
    if one == other == options.STANDARD:
        raise UsageError("standard input holds one file; name the other")
    if table == options.STANDARD and json_out:
        raise UsageError("--json and --csv - both want standard output; write one to a file")
    recipe = settings.recipe()

    from evenhand.compare import WITHIN_MS, comparison_csv, comparison_json, comparison_page
    from evenhand.compare import compare as compare_takes
    from evenhand.paper import show
    from evenhand.take import check_outputs, write_files

    path = Path(table) if table and table != options.STANDARD else None
    if path:
        inputs = [Path(name) for name in (one, other) if name != options.STANDARD]
        check_outputs([path], inputs, overwrite)
    kit = recipe.load_kit()
    takes = [options.load_take(name) for name in (one, other)]
    found = compare_takes(takes[0], takes[1], kit, recipe.channel, within or WITHIN_MS)
    names = takes[0].name, takes[1].name
    if path:
        write_files({path: comparison_csv(found)}, overwrite)
    if table == options.STANDARD:
        sys.stdout.buffer.write(comparison_csv(found))
    elif json_out:
        typer.echo(json.dumps(comparison_json(names, found)))
    elif not quiet:
        show(comparison_page(names, found))
    sys.stdout.flush()
    if found.differs.any():
        raise typer.Exit(DIFFERENT)


def _compare_habits(one: str, other: str, json_out: bool, quiet: bool) -> None:
    from evenhand.paper import compared_json, compared_page, show
    from evenhand.profile import compare_profiles, read_profile

    found = compare_profiles(read_profile(one), read_profile(other), (one, other))
    if json_out:
        typer.echo(json.dumps(compared_json(found)))
    elif not quiet:
        show(compared_page(found))
