"""`evenhand pick`: the best of several takes of one song."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli import options
from evenhand.cli.guard import UsageError, guarded
from evenhand.cli.setting_options import Given, takes_settings
from evenhand.cli.shell import Command

if TYPE_CHECKING:
    from evenhand.jobs.pick import Picked

_EXAMPLES = """\
Examples:

  evenhand pick take1.mid take2.mid take3.mid -o best.mid

  evenhand pick take*.mid --song song.mid -o best.mid     aligned by the song

  evenhand pick take*.mid --by-hand choices.toml -o best.mid

choices.toml overrules the figures, by section or by bars:

  [take]
  "verse 1" = 2
  "33-36" = "take3.mid"
"""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command(cls=Command, epilog=_EXAMPLES)(pick)


@guarded
@takes_settings("sections", "kit", "channel")
def pick(
    takes: Annotated[
        list[str], typer.Argument(metavar="TAKE...", help="Two or more takes of one song.")
    ],
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="FILE", help="Where the joined take goes.")
    ],
    song: options.Song = None,
    song_at: options.SongAt = None,
    by_hand: Annotated[
        Path | None,
        typer.Option("--by-hand", metavar="FILE", help="Choices that overrule the figures (TOML)."),
    ] = None,
    hits: Annotated[
        Path | None,
        typer.Option(
            "--hits",
            metavar="FILE",
            help="Where the list goes of which hit came from where.",
            show_default="beside the output, .hits.csv",
        ),
    ] = None,
    *,
    settings: Given,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Write nothing.")] = False,
    json_out: options.Json = False,
    overwrite: options.Overwrite = False,
    quiet: options.Quiet = False,
) -> None:
    """Choose the take that serves best in each section, and join them at bar lines."""
    recipe = settings.recipe()
    if song_at is not None and song is None:
        raise UsageError("--song-at says where the takes begin in a song; name it with --song")
    if len(takes) < 2:
        raise UsageError("it takes two takes or more to pick from")
    log = hits or output.with_name(f"{output.stem}.hits.csv")

    from evenhand.jobs.pick import ByHand, PickWishes, picked_csv, picked_json, read_by_hand
    from evenhand.jobs.pick import pick as pick_takes
    from evenhand.take import check_outputs, write_files

    recipe.load_kit()
    inputs = [Path(one) for one in (*takes, song, by_hand) if one]
    if not dry_run:
        check_outputs([output, log], inputs, overwrite)
    wishes = PickWishes(
        recipe,
        options.load_song(song, song_at),
        read_by_hand(by_hand) if by_hand else ByHand(),
    )
    picked = pick_takes([options.load_take(one) for one in takes], wishes, str(output))
    if not dry_run:
        write_files({output: picked.joined.take.to_bytes(), log: picked_csv(picked)}, overwrite)
    if json_out:
        names = {"output": str(output), "hits_written": str(log), "dry_run": dry_run}
        typer.echo(json.dumps(picked_json(picked, **names)))
    elif not quiet:
        _tell(picked, ["nothing (dry run)"] if dry_run else [str(output), str(log)])


def _tell(picked: "Picked", written: list[str]) -> None:
    from evenhand.jobs.pick import picked_page
    from evenhand.paper import show

    show(picked_page(picked, written), sys.stdout)
