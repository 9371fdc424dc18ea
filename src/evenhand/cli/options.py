"""Options that several commands share, and how they become a recipe and a take."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from evenhand.cli.guard import UsageError

if TYPE_CHECKING:
    from evenhand.recipe import Recipe
    from evenhand.song import Song as SongFile
    from evenhand.take import Take as TakeFile

#: Standard input or output instead of a file.
STANDARD = "-"

Take = Annotated[
    str, typer.Argument(metavar="TAKE", help="Standard MIDI File; - reads standard input.")
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of words.")]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace outputs that exist.")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print no summary.")]
RecipeFile = Annotated[
    Path | None,
    typer.Option(
        "--recipe", metavar="FILE", help="Settings from a TOML file; options win over it."
    ),
]
WriteRecipe = Annotated[
    Path | None,
    typer.Option(
        "--write-recipe",
        metavar="FILE",
        help="Write the recipe in full, with each section and what was found for it, to refine.",
    ),
]

# The settings of a recipe. None: not given.
Grid = Annotated[
    str | None,
    typer.Option(
        metavar="GRID",
        help="1/4, 1/8, 1/16, 1/32, with T for triplets; auto: the coarsest that explains the "
        "hits, with its swing, for each section.",
        show_default="auto",
    ),
]
Swing = Annotated[
    float | None,
    typer.Option(
        metavar="PERCENT",
        help="Where the second line of a pair stands: 50 straight, 66.7 triplet.",
        show_default="50",
    ),
]
Window = Annotated[
    str | None,
    typer.Option(
        metavar="MS",
        help="Strokes this near to their line stay; auto: what is just noticed, 6 ms or 2.5 % of "
        "the beat, whichever is more.",
        show_default="auto",
    ),
]
Strength = Annotated[
    float | None,
    typer.Option(
        metavar="PERCENT", help="How much of its deviation a moved stroke loses.", show_default="75"
    ),
]
Reach = Annotated[
    float | None,
    typer.Option(
        metavar="PERCENT",
        help="How far from a line a stroke may be and still belong to it, of the gap between "
        "lines.",
        show_default="40",
    ),
]
Together = Annotated[
    float | None,
    typer.Option(
        metavar="MS", help="Anchor hits no further apart are one stroke.", show_default="20"
    ),
]
Sections = Annotated[
    str | None,
    typer.Option(
        metavar="FROM",
        help="Where sections come from: markers (in the file), none, or auto: markers if there "
        "are any, otherwise found.",
        show_default="auto",
    ),
]
Latency = Annotated[
    str | None,
    typer.Option(
        metavar="MS",
        help="How late the recording chain wrote every hit; taken out first. auto: the lean of "
        "the whole take.",
        show_default="0",
    ),
]
GhostBelow = Annotated[
    str | None,
    typer.Option(
        metavar="VELOCITY",
        help="Snare hits softer than this are ghosts, or auto.",
        show_default="auto",
    ),
]
Anchor = Annotated[
    list[str] | None,
    typer.Option(
        metavar="PIECE",
        help="A piece whose hits are anchors; repeat for more.",
        show_default="kick, snare, side stick",
    ),
]
Kit = Annotated[
    str | None,
    typer.Option(
        "--kit", metavar="MAP", help="gm, ekit or a kit file (TOML).", show_default="ekit"
    ),
]
Channel = Annotated[
    int | None,
    typer.Option(
        metavar="1-16", help="MIDI channel of the drums.", show_default="10, or the only one"
    ),
]
Hold = Annotated[
    list[str] | None,
    typer.Option(
        metavar="A-B", help="Stays as played, from bar:beat to bar:beat; repeat for more."
    ),
]
Resolution = Annotated[
    int | None,
    typer.Option(
        metavar="TICKS",
        help="Write with a finer division: a whole multiple of the take's ticks per quarter.",
    ),
]

Lean = Annotated[
    float | None,
    typer.Option(
        metavar="PERCENT",
        help="How much of a section's own push or drag stays: 0 pulls to the line.",
        show_default="50",
    ),
]
LeanFollow = Annotated[
    float | None,
    typer.Option(
        metavar="BARS",
        help="Let the lean drift inside a section: bars on each side that count; 0 for not at all.",
        show_default="0",
    ),
]
Fills = Annotated[
    str | None,
    typer.Option(
        metavar="HOW",
        help="loose: only the ends of a fill are anchors; tight: like anything else; as-played: "
        "held.",
        show_default="loose",
    ),
]
FillLanding = Annotated[
    str | None,
    typer.Option(
        metavar="HOW",
        help="The stroke that a fill lands on: tight, like others, or as-played.",
        show_default="tight",
    ),
]
Ornaments = Annotated[
    str | None,
    typer.Option(
        metavar="on|off",
        help="Graces move rigidly with their main hit, rolls are carried.",
        show_default="on",
    ),
]
Plan = Annotated[
    str | None,
    typer.Option(
        metavar="HOW",
        help="hits: each stroke by itself; spans: strokes that err alike together, into their "
        "windows.",
        show_default="hits",
    ),
]
SpanCost = Annotated[
    float | None,
    typer.Option(
        metavar="MS", help="With spans: how much movement a span must save.", show_default="30"
    ),
]
Syncopation = Annotated[
    str | None,
    typer.Option(
        metavar="HOW",
        help="Strokes that stand on a line of the other subdivision on purpose: stay, move, or "
        "auto: stay unless the grid is given.",
        show_default="auto",
    ),
]

# Hints for finding the tempo.
Steady = Annotated[bool, typer.Option("--steady", help="The take keeps to one tempo.")]
Follow = Annotated[bool, typer.Option("--follow", help="The tempo wanders or steps.")]
Smooth = Annotated[
    float | None,
    typer.Option(
        metavar="BARS",
        help="Over how many bars a tempo that wanders is smoothed.",
        show_default="1",
    ),
]
Near = Annotated[
    float | None, typer.Option(metavar="BPM", help="About how fast the take is, if known.")
]
Meter = Annotated[
    str | None,
    typer.Option(
        metavar="N/N", help="The meter, if known.", show_default="found: 4/4, 3/4, 5/4 or 6/8"
    ),
]
FirstBeat = Annotated[
    float | None,
    typer.Option(metavar="MS", help="Where the first beat of a bar lies, if known."),
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
    from evenhand.song import read_song

    if song is None:
        return None
    try:
        return read_song(song, song_at)
    except SettingError as error:
        raise UsageError(f"--{error}") from None


def fit_mode(steady: bool, follow: bool) -> str:
    """How the tempo is to be found."""
    if steady and follow:
        raise UsageError("--steady and --follow exclude each other; without them it is found out")
    return "steady" if steady else "follow" if follow else "auto"


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


def build_recipe(path: Path | None, **given: Any) -> "Recipe":
    """Make the recipe of a run: the file's settings, then the options, which win.

    Options that were not given are None.
    """
    from evenhand.errors import SettingError
    from evenhand.recipe import Recipe, read_recipe

    recipe = read_recipe(path) if path else Recipe()
    try:
        return recipe.with_settings(given_settings(**given))
    except SettingError as error:
        name, _, rest = str(error).partition(":")
        raise UsageError(f"--{name.replace('_', '-')}:{rest}") from None


def given_settings(**given: Any) -> dict[str, Any]:
    """The options that were given, as settings; those that were not are None."""
    settings = {name: value for name, value in given.items() if value not in (None, [])}
    for name in ("window", "latency", "ghost_below"):
        if name in settings:
            settings[name] = _number_or_word(settings[name], whole=name == "ghost_below")
    return settings


def _number_or_word(text: str, whole: bool) -> float | int | str:
    try:
        return int(text) if whole else float(text)
    except ValueError:
        return text


def load_take(name: str) -> "TakeFile":
    """Read the take from a file, or from standard input."""
    from evenhand.take import Take as TakeFile
    from evenhand.take import read_stdin, read_take

    if name == STANDARD:
        if sys.stdin.isatty():
            raise UsageError("standard input is the keyboard; pipe a MIDI file into it")
        return TakeFile.from_bytes(read_stdin(), "standard input")
    return read_take(name)
