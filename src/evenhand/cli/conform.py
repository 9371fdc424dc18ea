"""`evenhand conform`: the audio of a take follows its tightened MIDI."""

import json
import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command

if TYPE_CHECKING:
    from evenhand.jobs.conform import Moves
    from evenhand.recipe import Recipe
    from evenhand.take import Take

_EXAMPLES = """\
Examples:

  evenhand conform take.mid kick.wav snare.wav oh.wav room.wav -o conformed

  evenhand conform take.mid mics/*.wav --dry-run         only say what would be cut

  evenhand conform take.mid mics/*.wav -o conformed --pass 2

  evenhand conform take.mid mics/*.wav -o conformed --to take-tight.mid

  evenhand conform take.mid mics/*.wav -o conformed --offset 12.5
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(conform)


@guarded
@takes_settings("kit", "channel")
def conform(
    take: Annotated[str, typer.Argument(metavar="TAKE", help="The take as played (MIDI).")],
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILE...",
            help="All microphones of it: WAV, RF64, Wave64, AIFF or FLAC, of one rate and length.",
        ),
    ],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FOLDER", help="A new folder.")
    ] = None,
    number: Annotated[
        int | None,
        typer.Option(
            "--pass",
            metavar="PASS",
            min=1,
            help="Follow this pass on record.",
            show_default="the last one",
        ),
    ] = None,
    recipe: Annotated[
        Path | None,
        typer.Option("--recipe", metavar="FILE", help="Follow what this recipe makes of TAKE."),
    ] = None,
    to: Annotated[
        str | None, typer.Option("--to", metavar="TIGHT", help="Follow this tightened take.")
    ] = None,
    offset: Annotated[
        float | None,
        typer.Option(
            metavar="MS", help="How late the audio is against the take.", show_default="found"
        ),
    ] = None,
    drift: Annotated[
        bool,
        typer.Option(
            "--drift", help="Let the clocks of audio and MIDI run apart by over 200 millionths."
        ),
    ] = False,
    before: Annotated[
        float, typer.Option(metavar="MS", help="How much stays whole ahead of each attack.")
    ] = 4.0,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only plan; write nothing.")] = False,
    markers: Annotated[
        bool, typer.Option("--markers", help="Write what to listen to as markers (MIDI and CSV).")
    ] = False,
    *,
    settings: Given,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Cut all microphones of a take alike, so that they follow its tightened MIDI."""
    if dry_run == (output is not None):
        raise UsageError("give either -o FOLDER to write, or --dry-run to plan only")
    if sum(one is not None for one in (number, recipe, to)) > 1:
        raise UsageError("give only one of --pass, --recipe and --to")
    if offset is not None and not math.isfinite(offset):
        raise UsageError(f"--offset: {offset} is not a time in ms")
    if not 1 <= before <= 20:
        raise UsageError(f"--before: {before:g} is not from 1 to 20 ms")
    if take == options.STANDARD:
        raise UsageError("the take can't come from standard input; name its file")

    from evenhand.jobs.conform import ConformSettings
    from evenhand.jobs.conform import conform as run
    from evenhand.paper import show

    played, moves = _moves(take, number, recipe, to, settings)
    with _progress(json_out or quiet) as tell:
        done = run(
            played,
            moves,
            files,
            output,
            ConformSettings(before=before, offset=offset, drift=drift),
            markers=markers,
            overwrite=overwrite,
            tell=tell,
        )
    if json_out:
        typer.echo(json.dumps({"input": take, **done.told}))
    elif not quiet:
        show(done.page)


def _moves(
    take: str,
    number: int | None,
    recipe: Path | None,
    to: str | None,
    given: Given,
) -> "tuple[Take, Moves]":
    """The take as played, and how far each hit moves."""
    from evenhand.jobs.conform import moves_between

    if recipe or to:
        played = options.load_take(take)
        settings = given.recipe(recipe)
        tight = options.load_take(to) if to else _tightened(played, settings)
    else:
        played, tight, settings = _recorded(take, number, given)
    return played, moves_between(
        played,
        tight,
        settings.load_kit(),
        channel=settings.channel,
        anchors=tuple(settings.anchor),
    )


def _tightened(played: "Take", settings: "Recipe") -> "Take":
    from evenhand.tightener import tighten

    return tighten(played, settings).take


def _recorded(take: str, number: int | None, given: Given) -> "tuple[Take, Take, Recipe]":
    """The original of a pass, what the pass wrote, and its recipe."""
    from evenhand.errors import DiskError
    from evenhand.passes import (
        RECIPE,
        find_folder,
        original_of,
        output_of,
        read_history,
    )
    from evenhand.take import Take

    try:
        history = read_history(find_folder(take))
    except DiskError as error:
        raise DiskError(f"{error}; or follow a file with --to, or a recipe with --recipe") from None
    if not history.passes:
        raise DiskError(f"{history.folder} holds no pass; tighten the take first, or give --to")
    one = history.get(number) if number else history.passes[-1]
    settings = given.recipe(history.folder / one.folder / RECIPE)
    played = Take.from_bytes(original_of(history, one.number), take)
    tight = Take.from_bytes(output_of(history, one), f"pass {one.number} of {take}")
    return played, tight, settings


@contextmanager
def _progress(still: bool) -> Iterator[Callable[[str, int, int], None]]:
    """A bar on a terminal; nothing elsewhere."""
    if still or not sys.stderr.isatty():
        yield lambda *_: None
        return

    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("listening", total=1)
        yield lambda what, done, of: bar.update(task, description=what, completed=done, total=of)
