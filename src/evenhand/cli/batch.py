"""`evenhand batch`: many takes, one table."""

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import REFUSED, UsageError, guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command

if TYPE_CHECKING:
    from evenhand.cli.batch_words import Teller
    from evenhand.errors import EvenhandError
    from evenhand.jobs.batch import Inputs, Outcome
    from evenhand.jobs.workers import Executor

_EXAMPLES = """\
Examples:

  evenhand batch takes -o tight                  every take in the folder and those in it

  evenhand batch takes -o tight --dry-run        only list them

  evenhand batch takes -o tight --recipe song.toml --workers 4

  evenhand batch "session/*/drums-*.mid" -o tight --json-lines

  evenhand batch takes -o tight --shard 3/16     a sixteenth of them, for a queue

The same command goes on where it was stopped. A recipe called TAKE.recipe.toml beside a take is
for that take.
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(batch)


@guarded
@takes_settings()
def batch(
    inputs: Annotated[
        list[str],
        typer.Argument(
            metavar="INPUT...", help="Takes, folders of takes, or patterns such as 'a/*.mid'."
        ),
    ],
    output: Annotated[
        Path,
        typer.Option("--output", "-o", metavar="FOLDER", help="Where all results go."),
    ],
    recipe: options.RecipeFile = None,
    *,
    settings: Given,
    workers: Annotated[
        int | None,
        typer.Option(metavar="N", min=1, help="Processes.", show_default="one per core"),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS", help="Work on this Dask cluster, such as tcp://10.0.0.5:8786."
        ),
    ] = None,
    cluster_ca: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="For tls:// addresses: who vouches for them (PEM)."),
    ] = None,
    cluster_cert: Annotated[
        Path | None, typer.Option(metavar="FILE", help="For tls://: your certificate (PEM).")
    ] = None,
    cluster_key: Annotated[
        Path | None, typer.Option(metavar="FILE", help="For tls://: the key to it (PEM).")
    ] = None,
    shard: Annotated[
        str | None,
        typer.Option(metavar="N/M", help="Only this part of the takes, such as 3/16."),
    ] = None,
    redo: Annotated[bool, typer.Option("--redo", help="Repeat takes that are done.")] = False,
    stop_on_error: Annotated[
        bool, typer.Option("--stop-on-error", help="End at the first take that fails.")
    ] = False,
    listen: Annotated[
        bool, typer.Option("--listen", help="A listening page for each take as well.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="List the takes; do nothing.")] = False,
    json_lines: Annotated[
        bool, typer.Option("--json-lines", help="Print one JSON object per take.")
    ] = False,
    overwrite: Annotated[
        bool,
        typer.Option("--overwrite", help="Replace files in the way that are not of a batch."),
    ] = False,
    quiet: options.Quiet = False,
) -> None:
    """Tighten many takes, each by itself, with one table over all."""
    if cluster and workers:
        raise UsageError("--workers are processes here, --cluster has its own; give one of them")
    # Each worker has a core for itself; read when NumPy is first imported.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    part = _part(shard)
    certificates = {"ca": cluster_ca, "cert": cluster_cert, "key": cluster_key}
    named = {name: path for name, path in certificates.items() if path}
    if named and cluster is None:
        raise UsageError("--cluster-ca, --cluster-cert and --cluster-key need --cluster")
    executor = None if dry_run else _executor(cluster, named, workers)
    passing = settings.recipe(recipe)

    from evenhand.cli.batch_words import Teller
    from evenhand.jobs.batch import (
        FAILED,
        BatchSettings,
        find_takes,
        in_shard,
        look_ahead,
        run_batch,
    )

    passing.load_kit()
    order = BatchSettings(output, passing, settings.values, redo, overwrite, listen=listen)
    found = find_takes(inputs, output)
    takes = list(filter(in_shard(*part), found.takes)) if part else found.takes
    if not takes and not part:
        raise _nothing(inputs, found)
    table = "batch-{}-of-{}".format(*part) if part else "batch"
    if executor:
        outcomes = run_batch(takes, order, executor, table, found.unreadable)
    else:
        outcomes = look_ahead(takes, order)
    teller = Teller(output / table, len(takes), json_lines, quiet, dry_run)
    with contextlib.closing(outcomes), teller:
        try:
            for outcome in outcomes:
                teller.tell(outcome)
                if stop_on_error and outcome.state == FAILED:
                    raise _stopped(outcome, teller)
        except KeyboardInterrupt:
            raise KeyboardInterrupt(f"{teller.so_far()}; the same command goes on") from None
    teller.sum_up(found)
    if teller.count[FAILED] or found.unreadable:
        raise typer.Exit(REFUSED)


def _part(shard: str | None) -> tuple[int, int] | None:
    from evenhand.errors import SettingError
    from evenhand.jobs.batch import parse_shard

    try:
        return parse_shard(shard) if shard is not None else None
    except SettingError as error:
        raise UsageError(f"--shard: {error}") from None


def _executor(
    cluster: str | None, certificates: dict[str, Path], workers: int | None
) -> "Executor":
    if cluster is not None:
        from evenhand.errors import SettingError
        from evenhand.jobs.cluster import Cluster

        try:
            return Cluster(cluster, certificates)
        except SettingError as error:
            raise UsageError(f"--cluster: {error}") from None

    from evenhand.jobs.workers import Workers, cores

    return Workers(workers or cores())


def _nothing(inputs: list[str], found: "Inputs") -> "EvenhandError":
    from evenhand.errors import DiskError
    from evenhand.paper import many

    if found.unreadable:
        name, reason = next(iter(found.unreadable.items()))
        return DiskError(f"{name}: {reason}")
    left = f" ({many(len(found.left_out), 'file or folder')} left out)" if found.left_out else ""
    return DiskError(f"there is no take (.mid, .midi or .smf) in {', '.join(inputs)}{left}")


def _stopped(outcome: "Outcome", teller: "Teller") -> "EvenhandError":
    from evenhand.errors import DiskError

    return DiskError(
        f"{outcome.row['take']}: {outcome.row['reason']}; stopped there, {teller.so_far()}"
    )
