"""`evenhand assess`: know the take before touching it."""

import json
from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command

_EXAMPLES = """\
Examples:

  evenhand assess take.mid                       the whole view

  evenhand assess take.mid --write-recipe song.toml

  evenhand assess *.mid                          one row per take

  evenhand assess take.mid --csv > leans.csv

  evenhand assess take.mid --picture take.svg    what it looks like
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(assess)


@guarded
@takes_settings(looks=True)
def assess(
    takes: Annotated[
        list[str],
        typer.Argument(metavar="TAKE...", help="Standard MIDI Files; - reads standard input."),
    ],
    *,
    settings: Given,
    recipe: options.RecipeFile = None,
    write_recipe: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write what is suggested for each section as a recipe."),
    ] = None,
    picture: options.Picture = None,
    csv_out: Annotated[
        bool, typer.Option("--csv", help="Print one row per section and piece as CSV.")
    ] = False,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
) -> None:
    """Show where a take runs ahead, where it eases, and which grid explains it."""
    passing = settings.recipe(recipe)
    if csv_out and json_out:
        raise UsageError("--csv and --json both want standard output; choose one")
    if write_recipe and len(takes) > 1:
        raise UsageError("--write-recipe suggests for one take; name one")
    if picture and len(takes) > 1:
        raise UsageError("--picture shows one take; name one")
    options.check_picture(picture)

    from evenhand.assessor import assess as assess_take
    from evenhand.paper import (
        advice_toml,
        assessment_csv,
        assessment_json,
        assessment_page,
        many_page,
        show,
    )
    from evenhand.take import check_outputs, write_files

    passing.load_kit()
    outputs = [path for path in (write_recipe, picture) if path]
    check_outputs(outputs, options.inputs_of(takes[0], recipe), overwrite)
    found = [assess_take(options.load_take(name), passing) for name in takes]
    files = {}
    if write_recipe:
        files[write_recipe] = advice_toml(found[0], passing, write_recipe)
    if picture:
        from evenhand.picture import draw, show_assessment

        files[picture] = draw(show_assessment(found[0]), picture)
    write_files(files, overwrite)
    if csv_out:
        typer.echo(assessment_csv(found), nl=False)
    elif json_out:
        plain = [assessment_json(one) for one in found]
        plain[0]["recipe_written"] = str(write_recipe) if write_recipe else None
        plain[0]["picture"] = str(picture) if picture else None
        typer.echo(json.dumps(plain[0] if len(plain) == 1 else {"takes": plain}))
    elif len(found) > 1:
        show(many_page(found))
    else:
        show(assessment_page(found[0], [str(path) for path in outputs] or None))
