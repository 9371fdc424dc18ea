"""The listening page of a take of a batch: beside its tightened file, if it is asked for."""

from pathlib import Path

from evenhand.errors import DiskError
from evenhand.listen import MARK, listening_page
from evenhand.recipe import Recipe
from evenhand.take import Take, read_bytes, write_files


def page_beside(midi: Path) -> Path:
    """Where the page of a tightened take lies."""
    return midi.with_name(f"{midi.stem}.listen.html")


def write_listening(
    source: Path, recipe: Recipe, path: Path, staging: Path | None, overwrite: bool
) -> None:
    """Write the page of a take.

    Parameters
    ----------
    source : Path
        The take.
    recipe : Recipe
    path : Path
        Of the page.
    staging : Path, optional
        Where files are made.
    overwrite : bool
        Whether a file that is no listening page is replaced.

    Raises
    ------
    EvenhandError
        If such a file is in the way, or the page can't be made or written.
    """
    if path.exists() and not overwrite and MARK.encode() not in read_bytes(path)[:2000]:
        raise DiskError(
            f"{path} is there and no listening page; move it away, or give --overwrite to replace "
            "it"
        )
    take = Take.from_bytes(read_bytes(source), source.name)
    page = listening_page(take, recipe, str(source))
    write_files({path: page}, True, staging)
