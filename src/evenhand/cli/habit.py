"""`evenhand habit`: the habit of a drummer as a file, and a take leaned towards it."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.settings import Given, takes_settings
from evenhand.cli.shell import Command

_EXAMPLES = """\
Examples:

  evenhand habit take1.mid take2.mid -o drummer.habit.toml

  evenhand habit programmed.mid --from drummer.habit.toml -o played.mid

  evenhand habit punch-in.mid --from verse.habit.toml --percent 70 -o punch-in-verse.mid

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
        typer.Option(
            "--output", "-o", metavar="FILE", help="Where the habit, or the leaned take, goes."
        ),
    ] = None,
    source: Annotated[
        Path | None,
        typer.Option(
            "--from", metavar="HABIT", help="Lean the take towards this habit (a .toml file)."
        ),
    ] = None,
    percent: Annotated[
        float | None,
        typer.Option(
            metavar="PERCENT", min=0, max=100, help="How far it is leaned.", show_default="100"
        ),
    ] = None,
    *,
    settings: Given,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Write where a drummer usually plays each piece; or lean a take towards such a habit."""
    if percent is not None and source is None:
        raise UsageError("--percent says how far to lean; name a habit with --from")
    if source is not None and (len(takes) > 1 or output is None):
        raise UsageError("--from leans one take, and -o says where it goes")
    recipe = settings.recipe()

    from evenhand.ground import prepare
    from evenhand.paper import habit_json, habit_page, show
    from evenhand.profile import find_profile, lean_towards, profile_toml, read_profile
    from evenhand.take import check_outputs, write_files

    recipe.load_kit()
    if output:
        inputs = [Path(one) for one in takes if one != options.STANDARD]
        check_outputs([output], [*inputs, source] if source else inputs, overwrite)
    wanted = read_profile(source) if source else None
    grounds = [prepare(options.load_take(one), recipe) for one in takes]
    if wanted:
        leaned = lean_towards(grounds[0], wanted, 100.0 if percent is None else percent)
        data = leaned.to_bytes()
        found = find_profile([prepare(leaned, recipe.with_settings({"song": None}))])
    else:
        found = find_profile(grounds)
        data = profile_toml(found)
    if output:
        write_files({output: data}, overwrite)
    written = str(output) if output else None
    if json_out:
        typer.echo(json.dumps({**habit_json(found), "output": written}))
    elif not quiet:
        show(habit_page(found, written), sys.stdout)
