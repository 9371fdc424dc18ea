"""Options that several commands share besides the settings, and how they become a take."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.guard import UsageError
from evenhand.errors import EvenhandError
from evenhand.recipe import OUTPUT, USUAL

if TYPE_CHECKING:
    from evenhand.take import Song as SongFile
    from evenhand.take import Take as TakeFile

#: Standard input or output instead of a file.
STANDARD = "-"

Take = Annotated[
    str, typer.Argument(metavar="TAKE", help="Standard MIDI File; - reads standard input.")
]
Json = Annotated[
    bool,
    typer.Option("--json", help="Print one JSON object instead of words.", rich_help_panel=OUTPUT),
]
Overwrite = Annotated[
    bool, typer.Option("--overwrite", help="Replace outputs that exist.", rich_help_panel=OUTPUT)
]
Quiet = Annotated[
    bool, typer.Option("--quiet", "-q", help="Print no summary.", rich_help_panel=OUTPUT)
]
Picture = Annotated[
    Path | None,
    typer.Option(
        metavar="FILE",
        help="Draw deviations over the bars, the habit and how even the hats are: .png or .svg.",
        rich_help_panel=OUTPUT,
    ),
]
RecipeFile = Annotated[
    Path | None,
    typer.Option(
        "--recipe",
        metavar="FILE",
        help="Settings from a TOML file; options win over it.",
        rich_help_panel=USUAL,
    ),
]
WriteRecipe = Annotated[
    Path | None,
    typer.Option(
        "--write-recipe",
        metavar="FILE",
        help="Write the recipe in full, with each section and what was found for it, to refine.",
        rich_help_panel=OUTPUT,
    ),
]

# The song that a take belongs to.
Song = Annotated[
    str | None,
    typer.Option(
        metavar="SONG",
        help="The song (MIDI): its tempo, meter and markers are laid under the take.",
    ),
]
SongAt = Annotated[
    str | None,
    typer.Option(
        metavar="WHERE",
        help="Where in the song the take begins: bar:beat, or seconds.",
        show_default="start on start",
    ),
]


def load_song(song: str | None, song_at: str | None) -> "SongFile | None":
    """Read the song, if one is named."""
    from evenhand.errors import SettingError
    from evenhand.take import read_song

    if song is None:
        return None
    try:
        return read_song(song, song_at)
    except SettingError as error:
        raise UsageError(f"--{error}") from None


def check_picture(picture: Path | None) -> None:
    """See that a picture can be drawn before there is any work done for it."""
    if picture is None:
        return
    from evenhand.errors import SettingError
    from evenhand.picture import KINDS, need_drawing

    if picture.suffix.lower() not in KINDS:
        raise UsageError(f"--picture: {picture.name!r} is none; let it end in .png or .svg")
    try:
        need_drawing(picture)
    except SettingError as error:
        raise EvenhandError(f"--{error}") from None


def goes_to_stdout(take: str, output: str | None) -> bool:
    """Whether the result goes to standard output: if asked, or by default behind a pipe."""
    return output == STANDARD or (output is None and take == STANDARD)


def target_of(take: str, output: str | Path | None, mark: str, suffix: str = "") -> Path:
    """Where a result goes: as said, into the folder that was named, or beside the take.

    `mark` is put behind the take's name; `suffix` replaces that of the take.
    """
    source = Path(take if take != STANDARD else "take.mid")
    default = f"{source.stem}{mark}{suffix or source.suffix or '.mid'}"
    if output is None:
        return source.parent / default
    return Path(output) / default if Path(output).is_dir() else Path(output)


def inputs_of(take: str, recipe: Path | None) -> list[Path]:
    """The files that a run reads, which it must not write."""
    named = [Path(take)] if take != STANDARD else []
    return [*named, recipe] if recipe else named


def load_take(name: str) -> "TakeFile":
    """Read the take from a file, or from standard input."""
    from evenhand.take import Take as TakeFile
    from evenhand.take import read_stdin, read_take

    if name == STANDARD:
        if sys.stdin.isatty():
            raise UsageError("standard input is the keyboard; pipe a MIDI file into it")
        return TakeFile.from_bytes(read_stdin(), "standard input")
    return read_take(name)
