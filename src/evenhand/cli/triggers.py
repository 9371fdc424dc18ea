"""`evenhand triggers`: clean, mapped, sample-exact data for replacement."""

import contextlib
import json
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command
from evenhand.recipe import SETTINGS

if TYPE_CHECKING:
    from evenhand.jobs.triggers import Cleaning, Prepared, Shape

#: The settings that cleaning goes by; all others are for tightening.
_CLEANING = ("kit", "channel")

#: Longest range of hits in one --put-back.
_MOST_NUMBERS = 100_000

_EXAMPLES = """\
Examples:

  evenhand triggers take.mid --check             only say what would be cleaned

  evenhand triggers take.mid -o clean            MIDI, hits.csv, removed.csv, report.md

  evenhand triggers take.mid -o clean --pulses --rate 44100 --to gm

  evenhand triggers take.mid -o clean --put-back 212 --put-back 430-433

  evenhand triggers take.mid -o clean --tighten --recipe song.toml --floor snare=30
"""

Dial = list[str] | None


def _dial(name: str, text: str, default: str) -> object:
    return typer.Option(
        name, metavar="[PIECE=]NUMBER", help=f"{text}; repeat for more.", show_default=default
    )


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(triggers)


@guarded
@takes_settings()
def triggers(
    take: options.Take,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FOLDER", help="A new folder.")
    ] = None,
    check: Annotated[
        bool, typer.Option("--check", help="Only report what would be cleaned.")
    ] = False,
    doubles: Annotated[
        bool, typer.Option("--doubles/--no-doubles", help="Remove double triggers.")
    ] = True,
    mask: Annotated[Dial, _dial("--mask", "How long a pad may echo, ms", "36")] = None,
    crosstalk: Annotated[
        bool, typer.Option("--crosstalk/--no-crosstalk", help="Remove crosstalk.")
    ] = True,
    lengths: Annotated[
        bool,
        typer.Option("--lengths/--no-lengths", help="Give stuck and zero-length notes a length."),
    ] = True,
    length: Annotated[
        float, typer.Option(metavar="MS", help="The length that such notes get.")
    ] = 100.0,
    drop_below: Annotated[
        Dial, _dial("--drop-below", "Remove hits softer than this velocity", "1")
    ] = None,
    put_back: Annotated[
        list[str] | None,
        typer.Option(
            metavar="HIT", help="Keep this hit (number or range in removed.csv); repeat for more."
        ),
    ] = None,
    match: Annotated[
        Path | None,
        typer.Option(metavar="TAKE", help="Give each piece the velocities of this take."),
    ] = None,
    floor: Annotated[Dial, _dial("--floor", "What velocity 1 becomes", "1")] = None,
    ceiling: Annotated[Dial, _dial("--ceiling", "What velocity 127 becomes", "127")] = None,
    curve: Annotated[
        Dial, _dial("--curve", "Exponent between them; below 1 lifts soft hits", "1")
    ] = None,
    to: Annotated[
        str | None, typer.Option(metavar="MAP", help="Map notes: gm, or a target map (TOML).")
    ] = None,
    merge: Annotated[bool, typer.Option("--merge", help="Let two pieces share a note.")] = False,
    hat_pedal: Annotated[
        str | None,
        typer.Option(
            metavar="CLOSED-OPEN",
            help="Choose the hat's notes by its pedal: auto, or the control values of closed and "
            "open such as 90-0.",
        ),
    ] = None,
    chokes: Annotated[
        str, typer.Option(metavar="HOW", help="Choked cymbals: pressure stays, or note-off.")
    ] = "pressure",
    tighten: Annotated[
        bool, typer.Option("--tighten", help="Tighten what is left, by --recipe or the defaults.")
    ] = False,
    recipe: options.RecipeFile = None,
    *,
    settings: Given,
    pulses: Annotated[
        bool, typer.Option("--pulses", help="Write a WAV per piece with a click at each hit.")
    ] = False,
    rate: Annotated[int, typer.Option(metavar="HZ", help="Samples per second.")] = 48_000,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Clean a triggered take and write it for samplers and replacement tools."""
    if check == (output is not None):
        raise UsageError("give either -o FOLDER to write, or --check to look only")
    if check and pulses:
        raise UsageError("--check writes nothing, so there is nothing for --pulses to do")
    unused = [SETTINGS[name].option for name in settings.values if name not in _CLEANING]
    if unused and not tighten:
        raise UsageError(f"{', '.join(unused)} need --tighten; without it nothing is moved")
    passing = settings.recipe(recipe)

    from evenhand.jobs.triggers import (
        TriggerSettings,
        is_ours,
        load_target,
        prepare,
        velocities_of,
        write_folder,
    )
    from evenhand.take import check_folder

    with _usage():
        order = TriggerSettings(
            cleaning=_cleaning(
                doubles, mask, crosstalk, lengths, length, drop_below, _numbers(put_back or [])
            ),
            shape=_shape(floor, ceiling, curve),
            merge=merge,
            hat_pedal=hat_pedal,
            chokes=chokes,
            tighten=tighten,
            rate=rate,
        )
    if to:
        order = replace(order, to=load_target(to, passing.load_kit(), merge))
    elif hat_pedal is not None or merge:
        raise UsageError("--hat-pedal and --merge choose notes of a target map; give --to as well")
    if output:
        check_folder(output, is_ours, overwrite)
    if match:
        order = replace(order, match=velocities_of(options.load_take(str(match)), passing))
    prepared = prepare(options.load_take(take), passing, order)
    files = write_folder(prepared, output, pulses, overwrite) if output else []
    if not quiet:
        _tell(prepared, output, files, json_out)


def _cleaning(
    doubles: bool,
    mask: Dial,
    crosstalk: bool,
    lengths: bool,
    length: float,
    drop_below: Dial,
    put_back: tuple[int, ...],
) -> "Cleaning":
    from evenhand.jobs.triggers import LONGEST_MS, MASK_MS, Cleaning, parse_dials

    if not 1 <= length <= LONGEST_MS:
        raise UsageError(f"--length: {length:g} is not from 1 to {LONGEST_MS:g} ms")
    return Cleaning(
        doubles=doubles,
        crosstalk=crosstalk,
        lengths=lengths,
        mask=parse_dials("mask", mask or [], MASK_MS, 0, 1000),
        drop_below=parse_dials("drop-below", drop_below or [], 1, 1, 128, whole=True),
        length=length,
        put_back=put_back,
    )


def _shape(floor: Dial, ceiling: Dial, curve: Dial) -> "Shape":
    from evenhand.jobs.triggers import Shape, parse_dials

    return Shape(
        floor=parse_dials("floor", floor or [], 1, 1, 127, whole=True),
        ceiling=parse_dials("ceiling", ceiling or [], 127, 1, 127, whole=True),
        curve=parse_dials("curve", curve or [], 1, -math.inf, math.inf),
    )


def _numbers(texts: list[str]) -> tuple[int, ...]:
    """Hit numbers from `212`, `430-433`, `12,40-42`."""
    numbers: list[int] = []
    for text in (part for whole in texts for part in whole.split(",")):
        match = re.fullmatch(r"\s*([0-9]{1,9})(?:-([0-9]{1,9}))?\s*", text)
        first, last = (int(match[1]), int(match[2] or match[1])) if match else (1, 0)
        if last < first or last - first > _MOST_NUMBERS:
            raise UsageError(f"--put-back: {text!r} is not a hit such as 212 or 430-433")
        numbers += range(first, last + 1)
    return tuple(numbers)


@contextlib.contextmanager
def _usage() -> Iterator[None]:
    """A setting that makes no sense is an option that makes no sense."""
    from evenhand.errors import SettingError

    try:
        yield
    except SettingError as error:
        raise UsageError(f"--{error}") from None


def _tell(prepared: "Prepared", output: Path | None, files: list[str], json_out: bool) -> None:
    from evenhand.jobs.triggers import as_json, page
    from evenhand.paper import many, show

    if json_out:
        folder = str(output) if output else None
        told = as_json(prepared, output=folder, files=files)
        typer.echo(json.dumps(told))
        return
    written = [f"{many(len(files), 'file')} in {output}"] if output else ["nothing (check only)"]
    show(page(prepared, written))
