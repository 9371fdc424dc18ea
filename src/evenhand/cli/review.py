"""`evenhand review`: hear, decide, hear again, on a page served from this computer."""

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command
from evenhand.recipe import OUTPUT, USUAL

if TYPE_CHECKING:
    from collections.abc import Callable

    from evenhand.review import KeptPass, Session
    from evenhand.take import Take
    from evenhand.tightener import Result

_EXAMPLES = """\
Examples:

  evenhand review take.mid                       opens the page; Ctrl-C ends it

  evenhand review take.mid --backing song.wav    with the rest of the song beside the drums

  evenhand review take.mid --no-browser          prints the address instead

What you decide is in take.recipe.toml at once; the next review goes on from there. Start low, above
all in headphones.
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(review)


@guarded
@takes_settings()
def review(
    take: Annotated[str, typer.Argument(metavar="TAKE", help="Standard MIDI File.")],
    port: Annotated[
        int,
        typer.Option(
            min=0,
            max=65535,
            help="Port of the page.",
            show_default="a free one",
            rich_help_panel=USUAL,
        ),
    ] = 0,
    no_browser: Annotated[
        bool,
        typer.Option(
            "--no-browser",
            help="Print the page's address instead of opening it.",
            rich_help_panel=USUAL,
        ),
    ] = False,
    audio: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="A recording of the take, heard as it was played.",
            rich_help_panel=OUTPUT,
        ),
    ] = None,
    audio_offset: Annotated[
        float,
        typer.Option(
            metavar="MS", help="Where the take begins in that recording.", rich_help_panel=OUTPUT
        ),
    ] = 0.0,
    backing: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="The rest of the song, beside the drums; off at first.",
            rich_help_panel=OUTPUT,
        ),
    ] = None,
    backing_offset: Annotated[
        float,
        typer.Option(
            metavar="MS", help="Where the take begins in the song.", rich_help_panel=OUTPUT
        ),
    ] = 0.0,
    samples: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Your own one-shots, as in `evenhand render --samples`.",
            rich_help_panel=OUTPUT,
        ),
    ] = None,
    *,
    settings: Given,
) -> None:
    """Open a page on which to hear a take, decide, and hear it again."""
    if take == options.STANDARD:
        raise UsageError("a review needs a take on disk: its decisions are written beside it")

    from evenhand.errors import DiskError
    from evenhand.review import Edges, SoundFile, open_session, places_of, serve

    path = Path(take)
    given = (("audio", audio, audio_offset), ("backing", backing, backing_offset))
    sounds = {name: SoundFile(file, offset) for name, file, offset in given if file}
    for name, sound in sounds.items():
        if not math.isfinite(sound.offset_ms):
            raise UsageError(f"--{name}-offset: {sound.offset_ms} is not a time in ms")
        if not sound.path.is_file():
            raise DiskError(f"{sound.path} is no sound file; name one with --{name}")
    source = options.load_take(take)
    recipe_path = places_of(path).recipe
    found = recipe_path if recipe_path.exists() else None
    recipe = settings.recipe(found)
    recipe.load_kit()

    def opening() -> "Session":
        from evenhand.listen import passes_of

        passes = tuple(passes_of(source, take, take))
        return open_session(source, path, recipe, Edges(keep, passes, samples, sounds))

    keep = _keeper(take, source)
    serve(opening, sounds, port, lambda address: _ready(address, not no_browser))


def _keeper(take: str, source: "Take") -> "Callable[[Result, bool], KeptPass]":
    """What **Keep** does: the same as `evenhand tighten`, with the same record."""
    from evenhand.cli.recording import plan_recording

    midi = options.target_of(take, None, "-tight")
    log = midi.with_name(f"{midi.stem}.changes.csv")
    recording = plan_recording(take, midi, True, "", None)
    # Files that this review wrote may be replaced by what it writes next.
    own: set[Path] = set()

    def keep(result: "Result", replacing: bool) -> "KeptPass":
        from evenhand.listen import passes_of
        from evenhand.paper import change_log
        from evenhand.review import ExistsError, KeptPass
        from evenhand.take import check_outputs, write_files

        paths = [midi, log]
        there = [path for path in paths if path.exists() and path not in own]
        if there and not replacing:
            raise ExistsError(" and ".join(path.name for path in there))
        check_outputs(paths, [Path(take)], overwrite=True)
        data, changes = result.take.to_bytes(), change_log(result.changes)
        files = {log: changes, midi: data}
        recorded = recording.run(
            lambda: write_files(files, overwrite=True), source, result, data, changes
        )
        own.update(paths)
        number = f", pass {recorded.number}" if recorded else ""
        text = f"Written: {midi.name} and {log.name}{number}."
        return KeptPass(text, tuple(passes_of(source, take, take)))

    return keep


def _ready(address: str, browser: bool) -> None:
    """Say where the page is; open it, if wanted."""
    import webbrowser

    opened = browser and webbrowser.open(address)
    if opened:
        address = address.partition("?")[0]
    typer.echo(f"The page is at {address}\nCtrl-C ends it; what you decide is on disk at once.")
