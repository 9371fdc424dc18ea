"""`evenhand demo`: an invented take to try things on."""

import typer


def add_to(app: typer.Typer) -> None:
    """Register the command."""
