"""`evenhand listen`: a page to hear and see a take before and after."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command
from evenhand.recipe import OUTPUT, USUAL

if TYPE_CHECKING:
    from evenhand.recipe import Recipe

_EXAMPLES = """\
Examples:

  evenhand listen take.mid                       take-listen.html, tightened for the page

  evenhand listen take.mid --strength 60 --hold 17:4-18:1

  evenhand listen take.mid take-tight.mid -o verse.html

Open the page in any browser; it needs no network. Start low, above all in headphones.
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(listen)


@guarded
@takes_settings()
def listen(
    take: options.Take,
    tight: Annotated[
        str | None,
        typer.Argument(
            metavar="TIGHT",
            help="A tightened version of TAKE to compare with.",
            show_default="made in memory with the settings",
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="Where the page goes.",
            show_default="TAKE-listen.html",
            rich_help_panel=USUAL,
        ),
    ] = None,
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
    recipe: options.RecipeFile = None,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Write a page that plays and shows a take before and after: one HTML file, no network."""
    passing = settings.recipe(recipe)
    if take == tight == options.STANDARD:
        raise UsageError("only one of the two takes can come from standard input")

    from evenhand.listen import build_page
    from evenhand.take import check_outputs, write_files

    target = options.target_of(take, output, "-listen", ".html")
    inputs = [Path(name) for name in (take, tight) if name and name != options.STANDARD]
    check_outputs([target], inputs, overwrite)
    passing.load_kit()
    data = _data(take, tight, passing, samples)
    page = build_page(data)
    write_files({target: page}, overwrite)
    if not quiet:
        _tell(data, target, len(page), json_out)


def _data(take: str, tight: str | None, passing: "Recipe", samples: Path | None) -> dict[str, Any]:
    from evenhand.listen import Names, compare, empty_page_data, page_data, passes_of
    from evenhand.tightener import tighten

    source = options.load_take(take)
    name = take if take != options.STANDARD else "take.mid"
    if not any(track.note_ons().any() for track in source.smf.tracks):
        return empty_page_data(source, name)
    second = options.load_take(tight) if tight else None
    kit = passing.kit if passing.kit.endswith(".toml") else ""
    comparison = compare(tighten(source, passing), second)
    passes = [] if take == options.STANDARD else passes_of(source, take, tight or take)
    return page_data(comparison, Names(name, tight or "", kit), samples, passes)


def _tell(data: dict[str, Any], target: Path, size: int, json_out: bool) -> None:
    from evenhand.ground import OFFSET, TEMPO
    from evenhand.paper import Facts, Page, many, show

    hits = len(data["hits"]["before"]) if data["hits"] else 0
    flags = len(data.get("flags", ()))
    note = data.get("note", "")
    borrowed = data.get("borrowed", [])
    whole = [one["text"] for one in data.get("flags", ()) if one["kind"] in (TEMPO, OFFSET)]
    if json_out:
        told = {
            "input": data["name"],
            "output": str(target),
            "bytes": size,
            "hits": hits,
            "flags": flags,
            "whole_take": whole,
            "note": note,
            "from_sound_bank": borrowed,
        }
        typer.echo(json.dumps(told))
        return
    parts = [Facts("page", [f"{many(hits, 'hit')}, {many(flags, 'flag')} to listen to"])]
    if not hits:
        parts = [Facts("page", ["there are no hits in this take; the page says so"])]
    parts += [Facts("whole", whole)] if whole else []
    parts += [Facts("note", [note])] if note else []
    parts += [Facts("samples", ["from the sound bank: " + ", ".join(borrowed)])] if borrowed else []
    parts.append(Facts("written", [f"{target} ({size / 1e6:.1f} MB)"]))
    show(Page(data["name"], parts))
