"""`evenhand assess`: know the take before touching it."""

import typer

from evenhand.cli import options
from evenhand.cli.guard import guarded


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(epilog="Example:  evenhand assess take.mid")(assess)


@guarded
def assess(
    take: options.Take,
    grid: options.Grid = None,
    sections: options.Sections = None,
    json_out: options.Json = False,
) -> None:
    """Show where a take runs ahead, where it eases, and which grid explains it."""
    settings = options.build_recipe(None, grid=grid, sections=sections)
    from evenhand.assessor import assess as assess_take
    from evenhand.paper.assessment import assessment_page
    from evenhand.paper.page import show

    found = assess_take(options.load_take(take), settings)
    show(assessment_page(found))
