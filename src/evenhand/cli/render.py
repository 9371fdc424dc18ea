"""`evenhand render`: a take as sound."""

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command

if TYPE_CHECKING:
    from collections.abc import Callable

    from evenhand.sound import Rendering

_RATES = (44_100, 48_000)

_EXAMPLES = """\
Examples:

  evenhand render take.mid                       take.wav

  evenhand render take-tight.mid --click -24     with a quiet click

  evenhand render take.mid -o take.ogg --rate 48000

  evenhand render take.mid --stems --click -24   take-kick.wav, take-snare.wav … take-click.wav

  evenhand render take.mid --samples my-kit      with my-kit/kick.wav, my-kit/snare.wav …
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(render)


@guarded
@takes_settings("kit", "channel")
def render(
    take: options.Take,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="Where the sound goes: .wav, .flac or .ogg.",
            show_default="TAKE.wav",
        ),
    ] = None,
    click: Annotated[
        float | None,
        typer.Option(
            metavar="DB",
            help="Add a click on every beat; its peak in dB over the peak of the drums. Start with "
            "-24, low in headphones, and follow local rules on noise exposure.",
            show_default="no click",
        ),
    ] = None,
    stems: Annotated[
        bool,
        typer.Option("--stems", help="One file per piece, and one for the click, that sum up."),
    ] = False,
    samples: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Your own one-shots: kick.wav, snare.wav, hat.wav, hat-open.wav, tom-1.wav …; "
            "what is missing comes from the sound bank.",
        ),
    ] = None,
    rate: Annotated[int, typer.Option(metavar="HZ", help="44100 or 48000.")] = _RATES[0],
    *,
    settings: Given,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Play a take into a sound file, each hit on its sample, with a peak of -1 dBFS."""
    if rate not in _RATES:
        raise UsageError(f"--rate: {rate} is neither {_RATES[0]} nor {_RATES[1]}")
    if click is not None and not (math.isfinite(click) and -96 <= click <= 0):
        raise UsageError(f"--click: {click:g} is not a level from -96 to 0 dB")
    target = _target(take, output)
    recipe = settings.recipe()

    from evenhand.kit import label
    from evenhand.sound import render_take, write_sound
    from evenhand.take import check_outputs, write_files

    kit = recipe.load_kit()
    inputs = [Path(take)] if take != options.STANDARD else []
    if not stems:
        check_outputs([target], inputs, overwrite)
    source = options.load_take(take)
    hits, _ = label(source.struck(recipe.channel), kit, recipe.anchor)
    rendering = render_take(
        source, hits, kit, rate=rate, click_db=click, stems=stems, folder=samples
    )
    paths = {name: _path(target, name, stems) for name in rendering.files}
    check_outputs(list(paths.values()), inputs, overwrite)
    kind = target.suffix.lower()

    def content(name: str) -> "Callable[[Path], None]":
        return lambda path: write_sound(path, kind, rendering.files[name], rate)

    write_files({path: content(name) for name, path in paths.items()}, overwrite)
    if not quiet:
        _tell(source.name, rendering, list(paths.values()), rate, json_out)


def _target(take: str, output: Path | None) -> Path:
    source = Path(take if take != options.STANDARD else "take.mid")
    target = output or source.with_suffix(".wav")
    if target.is_dir():
        target /= source.with_suffix(".wav").name
    if target.suffix.lower() not in (".wav", ".flac", ".ogg"):
        raise UsageError(f"-o: {target} ends in none of .wav, .flac, .ogg")
    return target


def _path(target: Path, name: str, stems: bool) -> Path:
    """Stems are named after their piece, hyphens for spaces."""
    return target.with_stem(f"{target.stem}-{name.replace(' ', '-')}") if stems else target


def _tell(
    name: str, rendering: "Rendering", written: list[Path], rate: int, json_out: bool
) -> None:
    from evenhand.paper import Facts, Page, show
    from evenhand.sound import PEAK_DB

    if json_out:
        told = {
            "input": name,
            "outputs": [str(path) for path in written],
            "rate": rate,
            "seconds": round(rendering.seconds, 3),
            "gain_db": round(rendering.gain_db, 2),
            "peak_dbfs": PEAK_DB,
            "from_sound_bank": rendering.borrowed,
        }
        typer.echo(json.dumps(told))
        return
    parts = [
        Facts(
            "sound",
            [
                f"{rendering.seconds:.1f} s at {rate} Hz, mono",
                f"gain {rendering.gain_db:+.1f} dB, so that the mix peaks at {PEAK_DB:g} dBFS",
            ],
        ),
        Facts("written", [str(path) for path in written]),
    ]
    if rendering.borrowed:
        parts.insert(1, Facts("samples", ["from the sound bank: " + ", ".join(rendering.borrowed)]))
    show(Page(name, parts))
