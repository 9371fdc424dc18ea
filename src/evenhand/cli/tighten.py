"""`evenhand tighten`: the main job."""

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.recording import Recording, plan_recording
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command
from evenhand.recipe import OUTPUT, RECORD, USUAL

if TYPE_CHECKING:
    from collections.abc import Iterator

    from evenhand.passes import Pass
    from evenhand.take import Take
    from evenhand.tightener import Result

_EXAMPLES = """\
Examples:

  evenhand tighten take.mid                      take-tight.mid, take-tight.changes.csv

  evenhand tighten take.mid --dry-run            only say what would happen

  evenhand tighten take.mid --grid 1/8T --strength 60 --hold 17:4-18:1

  evenhand tighten take.mid --recipe song.toml -o out/verse.mid

  evenhand tighten take.mid --write-recipe song.toml   what was found, to refine by hand

  evenhand tighten take.mid --fit                for a take without a click, or a wrong tempo

  cat take.mid | evenhand tighten - -o - > tight.mid
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(tighten)


@guarded
@takes_settings()
def tighten(
    take: options.Take,
    output: Annotated[
        str | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="Where the tightened take goes; a folder, or - for standard output.",
            show_default="TAKE-tight.mid",
            rich_help_panel=USUAL,
        ),
    ] = None,
    changes: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Where the change log goes.",
            show_default="beside the output, .changes.csv",
            rich_help_panel=OUTPUT,
        ),
    ] = None,
    *,
    settings: Given,
    recipe: options.RecipeFile = None,
    write_recipe: options.WriteRecipe = None,
    picture: options.Picture = None,
    markers: Annotated[
        bool,
        typer.Option(
            "--markers",
            help="Write sections, fills and what to listen to as markers beside the output: "
            ".markers.mid and .markers.csv.",
            rich_help_panel=OUTPUT,
        ),
    ] = False,
    rate: Annotated[
        int | None,
        typer.Option(
            metavar="HZ",
            min=1,
            help="Samples per second that the list of markers counts in.",
            show_default="48000",
            rich_help_panel=OUTPUT,
        ),
    ] = None,
    note: Annotated[
        str,
        typer.Option(
            metavar="TEXT", help="A word to yourself, kept with the pass.", rich_help_panel=RECORD
        ),
    ] = "",
    start: Annotated[
        int | None,
        typer.Option(
            "--from",
            metavar="PASS",
            min=0,
            help="Start from this pass instead of the take.",
            rich_help_panel=RECORD,
        ),
    ] = None,
    no_record: Annotated[
        bool,
        typer.Option(
            "--no-record",
            help="Don't put this pass on record in TAKE.passes.",
            rich_help_panel=RECORD,
        ),
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Write nothing.", rich_help_panel=USUAL)
    ] = False,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Correct the kicks and snares that stand out; carry the rest along."""
    passing = settings.recipe(recipe)
    midi_path, log_path = _outputs(take, output, changes)
    if rate is not None and not markers:
        raise UsageError("--rate is for the list of markers; ask for it with --markers")
    if markers and not midi_path:
        raise UsageError("--markers stand beside the output; name a file with -o")
    marks = midi_path if markers else None
    options.check_picture(picture)
    paths = _Paths(midi_path, log_path, write_recipe, picture, marks, rate)
    recording = plan_recording(take, midi_path, not no_record, note, start)
    to_stdout = midi_path is None
    if to_stdout and json_out:
        raise UsageError("--json and -o - both want standard output; write one to a file")
    if to_stdout and not dry_run and sys.stdout.isatty():
        raise UsageError(
            "a MIDI file is no text for a terminal; name a file with -o, or pipe it on"
        )

    from evenhand.take import check_outputs
    from evenhand.tightener import tighten as tighten_take

    passing.load_kit()
    if not dry_run:
        check_outputs(paths.all(), options.inputs_of(take, recipe), overwrite)
    source = recording.load()
    result = tighten_take(source, passing)
    recorded = None
    if not dry_run:
        recorded = _write(result, paths, overwrite, recording, source)
    if not quiet:
        _tell(result, paths, dry_run, json_out, recording, recorded)


@dataclass(frozen=True)
class _Paths:
    """Where all goes: the take (None: standard output); log, recipe, picture (None: nowhere).

    `marked` is the take whose markers are written beside it, if they are.
    """

    midi: Path | None
    log: Path | None
    recipe: Path | None
    picture: Path | None
    marked: Path | None = None
    rate: int | None = None

    @property
    def markers(self) -> list[Path]:
        if not self.marked:
            return []
        return [self.marked.with_suffix(f".markers{suffix}") for suffix in (".mid", ".csv")]

    def all(self) -> list[Path]:
        return [*([self.midi] if self.midi else []), *self.beside]

    @property
    def beside(self) -> list[Path]:
        """All but the take."""
        named = (self.log, self.recipe, self.picture)
        return [*(path for path in named if path), *self.markers]


def _outputs(
    take: str, output: str | None, changes: Path | None
) -> tuple[Path | None, Path | None]:
    """Where the take goes (None: standard output) and where the change log goes (None: nowhere)."""
    if options.goes_to_stdout(take, output):
        return None, changes
    midi_path = options.target_of(take, output, "-tight")
    return midi_path, changes or midi_path.with_name(f"{midi_path.stem}.changes.csv")


def _write(
    result: "Result",
    paths: _Paths,
    overwrite: bool,
    recording: Recording,
    source: "Take",
) -> "Pass | None":
    from evenhand.paper import change_log, settled_toml
    from evenhand.take import write_files

    log = change_log(result.changes) if paths.log else b""
    data = result.take.to_bytes()
    contents = [(paths.log, log), (paths.midi, data)]
    if paths.recipe:
        title = f"The recipe of a run over {source.name}, in full"
        contents.append(
            (paths.recipe, settled_toml(title, paths.recipe, result.ground, result.recipe))
        )
    if paths.picture:
        from evenhand.picture import draw, show_result

        contents.append((paths.picture, draw(show_result(result), paths.picture)))
    contents += list(zip(paths.markers, _marker_files(result, paths.rate), strict=False))
    files = {path: text for path, text in contents if path}
    tied = [paths.log] if paths.log else []
    recorded = recording.run(
        lambda: write_files(files, overwrite, tied=tied), source, result, data, log
    )
    if not paths.midi:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    return recorded


def _marker_files(result: "Result", rate: int | None) -> "Iterator[bytes]":
    from evenhand.paper import RATE, markers_csv, markers_mid, marks_of

    marks = marks_of(result)
    yield markers_mid(result.take, marks)
    yield markers_csv(result.take, marks, rate or RATE)


def _tell(
    result: "Result",
    paths: _Paths,
    dry_run: bool,
    json_out: bool,
    recording: Recording,
    recorded: "Pass | None",
) -> None:
    """Print the summary: on standard error where standard output carries the take."""
    from evenhand.paper import as_json, fit_json, fit_page, show, summary

    midi = str(paths.midi) if paths.midi else "standard output"
    if json_out:
        names = {
            "output": midi,
            "changes": str(paths.log) if paths.log else None,
            "recipe_written": str(paths.recipe) if paths.recipe else None,
            "picture": str(paths.picture) if paths.picture else None,
            "markers": [str(path) for path in paths.markers],
            "dry_run": dry_run,
        }
        told = as_json(result, **names, **recording.names(recorded))
        if result.fitted:
            told["fit"] = fit_json(result.fitted)
        typer.echo(json.dumps(told))
        return
    written = [midi, *map(str, paths.beside), *recording.words(recorded)]
    stream = sys.stdout if paths.midi else sys.stderr
    if result.fitted:
        show(fit_page(result.fitted), stream)
    show(summary(result, ["nothing (dry run)"] if dry_run else written), stream)
