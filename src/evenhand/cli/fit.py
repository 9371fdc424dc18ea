"""`evenhand fit`: bars and beats where the drummer played them."""

import json
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

  evenhand fit take.mid                          take-fitted.mid

  evenhand fit take.mid --near 92 --meter 3/4 -o waltz.mid

  evenhand fit take.mid --follow --smooth 2      a tempo that wanders

  evenhand tighten take.mid --fit                fit and tighten in one go
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(fit)


@guarded
@takes_settings("fit", "smooth", "near", "meter", "first_beat", "kit", "channel", but=["fit"])
def fit(
    take: options.Take,
    output: Annotated[
        str | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="Where the fitted take goes; a folder, or - for standard output.",
            show_default="TAKE-fitted.mid",
        ),
    ] = None,
    *,
    settings: Given,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Find the real tempo; write bars and beats where they were played, moving nothing."""
    passing = settings.recipe()
    to_stdout = options.goes_to_stdout(take, output)
    path = None if to_stdout else options.target_of(take, output, "-fitted")
    if path is None and json_out:
        raise UsageError("--json and -o - both want standard output; write one to a file")
    if path is None and sys.stdout.isatty():
        raise UsageError(
            "a MIDI file is no text for a terminal; name a file with -o, or pipe it on"
        )

    from evenhand.fitter import fit as fit_take
    from evenhand.paper import fit_json, fit_page, show
    from evenhand.take import check_outputs, write_files

    if path:
        check_outputs([path], [Path(take)] if take != options.STANDARD else [], overwrite)
    done = fit_take(options.load_take(take), passing)
    data = done.take.to_bytes()
    if path:
        write_files({path: data}, overwrite)
    else:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    written = str(path) if path else "standard output"
    if json_out:
        typer.echo(json.dumps(fit_json(done, output=written)))
    elif not quiet:
        show(fit_page(done, written), sys.stdout if path else sys.stderr)
