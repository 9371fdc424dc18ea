"""`evenhand passes`: every pass on record."""

import json
from typing import TYPE_CHECKING, Annotated, Any

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.shell import Command
from evenhand.errors import DiskError

if TYPE_CHECKING:
    from evenhand.passes import History, Pass

_EXAMPLES = """\
Examples:

  evenhand passes take.mid                       the list, as a tree

  evenhand passes take.mid --show 2              one pass in full

  evenhand passes take.mid --verify              prove that the record holds

  evenhand passes mixes/take.passes              the folder itself, wherever it lies now
"""

TakeOrFolder = Annotated[
    str,
    typer.Argument(
        metavar="TAKE",
        help="The take whose passes lie beside it (it need not be there any more), or their "
        "folder, TAKE.passes.",
    ),
]


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(passes)


@guarded
def passes(
    take: TakeOrFolder,
    number: Annotated[
        int | None, typer.Option("--show", metavar="PASS", min=1, help="Show one pass in full.")
    ] = None,
    proof: Annotated[
        bool,
        typer.Option(
            "--verify", help="Check every stored file and run every recipe again; 1 if one differs."
        ),
    ] = False,
    json_out: options.Json = False,
) -> None:
    """List the passes of a take: what changed, and how the figures went."""
    if number is not None and proof:
        raise UsageError("--show and --verify are two things; ask for one at a time")

    from evenhand.passes import find_folder, read_history

    history = read_history(find_folder(take))
    if proof:
        _verify(history, json_out)
    elif number is not None:
        _show_one(history, history.get(number), json_out)
    else:
        _list(history, json_out)


def _list(history: "History", json_out: bool) -> None:
    from evenhand.paper import show
    from evenhand.passes import as_line, list_page

    if json_out:
        lines = [as_line(one) for one in history.passes]
        _echo(history, passes=lines, problems=history.problems)
        return
    show(list_page(history))


def _show_one(history: "History", one: "Pass", json_out: bool) -> None:
    from evenhand.paper import show
    from evenhand.passes import DETAILS, RECIPE, as_line, parsed_json, pass_page, read_file

    details = parsed_json(read_file(history, one, DETAILS))
    recipe = read_file(history, one, RECIPE).decode("utf-8", "replace")
    if not isinstance(details, dict):
        path = history.folder / one.folder / DETAILS
        raise DiskError(f"{path} was changed: it is not a JSON object")
    if json_out:
        _echo(history, **as_line(one), details=details)
        return
    show(pass_page(history, one, recipe, details))


def _verify(history: "History", json_out: bool) -> None:
    from evenhand.paper import show
    from evenhand.passes import proof_page, verify

    proof = verify(history)
    if json_out:
        found = [{"pass": number, "faults": faults} for number, faults in proof.passes.items()]
        _echo(history, holds=proof.holds, passes=found, index=proof.index, edited=proof.edited)
    else:
        show(proof_page(history, proof))
    if not proof.holds:
        raise DiskError(f"{history.folder}: the record does not hold; see the list of what differs")


def _echo(history: "History", **found: Any) -> None:
    typer.echo(json.dumps({"folder": str(history.folder), **found}))
