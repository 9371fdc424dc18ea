"""`evenhand demo`: an invented take to try things on."""

from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import guarded


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(epilog="Example:  evenhand demo tryout")(demo)


@guarded
def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where to; made if it is not there.")
    ] = Path(),
    overwrite: options.Overwrite = False,
) -> None:
    """Write an invented take with known faults, a list of them, and a recipe."""
    from evenhand.jobs import demo as job
    from evenhand.paper.page import printable
    from evenhand.take.files import check_outputs, make_folder, write_files

    files = {
        folder / f"{job.NAME}.mid": job.demo_take(),
        folder / f"{job.NAME}.faults.csv": job.faults_csv(),
        folder / f"{job.NAME}.recipe.toml": job.recipe(),
    }
    make_folder(folder)
    check_outputs(list(files), [], overwrite)
    write_files(files, overwrite)
    for path in files:
        typer.echo(printable(str(path)))
    typer.echo(printable(f"next: evenhand tighten {folder / job.NAME}.mid"), err=True)
