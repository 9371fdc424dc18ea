"""The `evenhand` command."""

from typing import Annotated

import typer

from evenhand import __version__
from evenhand.cli import (
    assess,
    batch,
    compare,
    demo,
    fit,
    kit,
    listen,
    passes,
    pick,
    practice,
    render,
    restore,
    tighten,
    triggers,
    watch,
)

app = typer.Typer(
    name="evenhand",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Start with:  evenhand demo  and then  evenhand tighten kettle-weather.mid",
)


def _show_version(asked: bool) -> None:
    if asked:
        typer.echo(f"evenhand {__version__}")
        raise typer.Exit


@app.callback()
def evenhand(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Tighten drum performances recorded as MIDI, and leave the drummer in them."""


for command in (
    tighten,
    assess,
    fit,
    kit,
    listen,
    render,
    triggers,
    batch,
    watch,
    pick,
    practice,
    passes,
    restore,
    compare,
    demo,
):
    command.add_to(app)


def main() -> None:
    """Run the command line."""
    app()
