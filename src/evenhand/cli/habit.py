"""`evenhand habit`: the habit of a drummer as a file."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command

_EXAMPLES = """\
Examples:

  evenhand habit take1.mid take2.mid -o drummer.habit.toml

  evenhand tighten programmed.mid --habit-from drummer.habit.toml

  evenhand tighten punch-in.mid --habit-from verse.habit.toml --habit 70

  evenhand compare --habit drummer.habit.toml other.habit.toml
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(habit)


@guarded
@takes_settings("grid", "swing", "latency", "ghost_below", "kit", "channel", "song", "song_at")
def habit(
    takes: Annotated[
        list[str], typer.Argument(metavar="TAKE...", help="One take or several of a drummer.")
    ],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="Where the habit goes."),
    ] = None,
    *,
    settings: Given,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Write where a drummer usually plays each piece; `--habit-from` takes it up."""
    recipe = settings.recipe()

    from evenhand.ground import prepare
    from evenhand.paper import habit_json, habit_page, show
    from evenhand.profile import find_profile, profile_toml
    from evenhand.take import check_outputs, write_files

    recipe.load_kit()
    if output:
        inputs = [Path(one) for one in takes if one != options.STANDARD]
        check_outputs([output], inputs, overwrite)
    found = find_profile([prepare(options.load_take(one), recipe) for one in takes])
    if output:
        write_files({output: profile_toml(found)}, overwrite)
    written = str(output) if output else None
    if json_out:
        typer.echo(json.dumps({**habit_json(found), "output": written}))
    elif not quiet:
        show(habit_page(found, written), sys.stdout)
