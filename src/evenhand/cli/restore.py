"""`evenhand restore`: an earlier state again, byte for byte."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.passes import TakeOrFolder
from evenhand.cli.shell import Command

_EXAMPLES = """\
Examples:

  evenhand restore take.mid --pass 2 -o out.mid           what pass 2 wrote

  evenhand restore take.mid --pass 0 -o untouched.mid     the original

  evenhand restore take.mid --original-of 4               where two takes share the folder
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(restore)


@guarded
def restore(
    take: TakeOrFolder,
    number: Annotated[
        int | None,
        typer.Option("--pass", metavar="PASS", min=0, help="Which pass; 0 is the original."),
    ] = None,
    original_of: Annotated[
        int | None,
        typer.Option(
            "--original-of", metavar="PASS", min=1, help="The original that a pass goes back to."
        ),
    ] = None,
    output: Annotated[
        str | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="Where it goes; - for standard output.",
            show_default="TAKE-pass-2.mid or TAKE-original.mid, beside the folder",
        ),
    ] = None,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Write what a pass wrote, or the original, once more: byte for byte."""
    if (number is None) == (original_of is None):
        raise UsageError(
            "say which: --pass and a number (evenhand passes lists them), --pass 0 for the "
            "original, or --original-of a pass where takes of one name share the folder"
        )
    if output == options.STANDARD and sys.stdout.isatty():
        raise UsageError(
            "a MIDI file is no text for a terminal; name a file with -o, or pipe it on"
        )

    from evenhand.passes import SUFFIX, find_folder, output_of, read_history
    from evenhand.passes import original_of as read_original
    from evenhand.take import check_outputs, write_files

    history = read_history(find_folder(take))
    if number:
        data, what = output_of(history, history.get(number)), f"pass {number}"
    else:
        data, what = read_original(history, original_of), "original"
    if output == options.STANDARD:
        sys.stdout.buffer.write(data)
        return
    folder = history.folder.resolve()
    default = f"{folder.name.removesuffix(SUFFIX)}-{what.replace(' ', '-')}.mid"
    path = Path(output) if output else history.folder.parent / default
    path = path / default if path.is_dir() else path
    check_outputs([path], [], overwrite)
    write_files({path: data}, overwrite)
    if not quiet:
        from evenhand.paper import Facts, Page, show

        show(Page(str(history.folder), [Facts("restored", [what]), Facts("written", [str(path)])]))
