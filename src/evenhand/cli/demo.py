"""`evenhand demo`: an invented take to try things on."""

from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.shell import Command


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog="Example:  evenhand demo tryout")(demo)


@guarded
def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where to; made if it is not there.")
    ] = Path(),
    noisy: Annotated[
        bool, typer.Option("--noisy", help="The take as bad triggers would send it, instead.")
    ] = False,
    practice: Annotated[
        bool, typer.Option("--practice", help="A drummer's takes over some days, instead.")
    ] = False,
    session: Annotated[
        bool, typer.Option("--session", help="The take with the sound of four microphones.")
    ] = False,
    overwrite: options.Overwrite = False,
) -> None:
    """Write an invented take with known faults, a list of them, and a recipe."""
    if noisy + practice + session > 1:
        raise UsageError("--noisy, --practice and --session are different demos; choose one")
    from evenhand.paper import printable
    from evenhand.take import check_outputs, make_folder, write_files

    make = _practice if practice else _noisy if noisy else _session if session else _plain
    named, command = make()
    files = {folder / name: data for name, data in named.items()}
    make_folder(folder)
    check_outputs(list(files), [], overwrite)
    write_files(files, overwrite)
    for path in files:
        typer.echo(printable(str(path)))
    take = next(iter(files))
    words = command.format(take=take, folder=folder)
    typer.echo(printable(f"next: evenhand {words}"), err=True)


def _plain() -> tuple[dict[str, bytes], str]:
    """The files by name, and what to do with the first."""
    from evenhand.jobs import demo_take as job

    files = {
        f"{job.NAME}.mid": job.demo_take(),
        f"{job.NAME}.faults.csv": job.faults_csv(),
        f"{job.NAME}.recipe.toml": job.recipe(),
    }
    return files, "tighten {take}"


def _noisy() -> tuple[dict[str, bytes], str]:
    from evenhand.jobs.triggers import NOISY_NAME, noisy_take

    take, misfires = noisy_take()
    files = {f"{NOISY_NAME}.mid": take, f"{NOISY_NAME}.misfires.csv": misfires}
    return files, "triggers {take} --check"


def _practice() -> tuple[dict[str, bytes], str]:
    from evenhand.jobs.practice import demo_series

    return demo_series(), "practice {folder}"


def _session() -> tuple[dict[str, bytes], str]:
    from evenhand.jobs import demo_take as job
    from evenhand.jobs.conform import demo_session

    take = f"{job.NAME}.mid"
    return {take: job.demo_take(), **demo_session()}, "tighten {take}"
