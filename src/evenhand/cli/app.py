"""The `evenhand` command."""

from typing import Annotated

import typer

from evenhand import __version__
from evenhand.cli.shell import Group

#: Every command with what it does, in a line; its file has its name.
COMMANDS = {
    "tighten": "Correct the kicks and snares that stand out; carry the rest along.",
    "assess": "Show where a take runs ahead, where it eases, and which grid explains it.",
    "fit": "Find the real tempo; write bars and beats where they were played, moving nothing.",
    "kit": "Show which notes occur, how often, how loud, and what each is taken for.",
    "review": "Open a page on which to hear a take, decide, and hear it again.",
    "listen": "Write a page that plays and shows a take before and after: one HTML file, no "
    "network.",
    "render": "Play a take into a sound file, each hit on its sample, with a peak of -1 dBFS.",
    "triggers": "Clean a triggered take and write it for samplers and replacement tools.",
    "conform": "Cut all microphones of a take alike, so that they follow its tightened MIDI.",
    "batch": "Tighten many takes, each by itself, with one table over all.",
    "watch": "Tighten what is saved into a folder as it arrives; Ctrl-C ends it.",
    "habit": "Write where a drummer usually plays each piece; `--habit-from` takes it up.",
    "pick": "Choose the take that serves best in each section, and join them at bar lines.",
    "practice": "Show a drummer's takes over days: what is steady, what changes, what to work on.",
    "passes": "List the passes of a take: what changed, and how the figures went.",
    "restore": "Write what a pass wrote, or the original, once more: byte for byte.",
    "compare": "Match the hits of two files of one performance and report what differs.",
    "demo": "Write an invented take with known faults, a list of them, and a recipe.",
}


class Commands(Group):
    """All commands."""

    lines = COMMANDS


app = typer.Typer(
    name="evenhand",
    cls=Commands,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Start with:  evenhand demo  and then  evenhand tighten kettle-weather.mid",
)


@app.callback(invoke_without_command=True)
def evenhand(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Show the version.")] = False,
    verbose: Annotated[
        bool,
        typer.Option("--verbose", help="With --version: all that a report of a fault needs."),
    ] = False,
) -> None:
    """Tighten drum performances recorded as MIDI, and leave the drummer in them."""
    if version:
        from evenhand.cli.versions import versions

        typer.echo("\n".join(versions()) if verbose else f"evenhand {__version__}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        context.fail("Missing command.")


def main() -> None:
    """Run the command line (the entry of scripts installed before `evenhand.__main__` was)."""
    from evenhand.cli.start import run

    run()
