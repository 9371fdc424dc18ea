"""`evenhand kit`: which notes occur and what each is taken for."""

import json

import typer

from evenhand.cli import options
from evenhand.cli.guard import guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(
        cls=Command,
        epilog="Example:  evenhand kit take.mid --kit my-kit.toml",
    )(kit)


@guarded
@takes_settings("kit", "channel", "ghost_below")
def kit(
    take: options.Take,
    *,
    settings: Given,
    json_out: options.Json = False,
) -> None:
    """Show which notes occur, how often, how loud, and what each is taken for."""
    recipe = settings.recipe()

    from evenhand.kit import label
    from evenhand.paper import kit_page, list_notes, show

    kit_used = recipe.load_kit()
    source = options.load_take(take)
    hits, limit = label(source.struck(recipe.channel), kit_used, recipe.anchor, recipe.ghost_limit)
    rows = list_notes(hits, kit_used, source.meter)
    if json_out:
        found = {"input": source.name, "kit": kit_used.name, "ghost_limit": limit.velocity}
        typer.echo(json.dumps({**found, "notes": rows}))
        return
    show(
        kit_page(
            source.name, rows, kit_used, f"snare below velocity {limit.velocity} ({limit.why})"
        )
    )
