"""The folder: its files, all of them or none."""

from pathlib import Path

from evenhand.errors import DiskError
from evenhand.jobs.triggers.hit_tables import hits_csv, removed_csv
from evenhand.jobs.triggers.make_ready import Prepared
from evenhand.jobs.triggers.pulses import check_length, write_pulses
from evenhand.jobs.triggers.trigger_words import report
from evenhand.kit import ROLE_OF_PIECE
from evenhand.take import folded, new_folder

ALL, HITS, REMOVED, REPORT = "drums.mid", "hits.csv", "removed.csv", "report.md"


def file_name(piece: str, suffix: str) -> str:
    """`side-stick.wav`."""
    return f"{piece.replace(' ', '-')}{suffix}"


def is_ours(name: str) -> bool:
    """Whether a file of this name is one that stands in such a folder."""
    ours = {ALL, HITS, REMOVED, REPORT}
    ours |= {file_name(piece, suffix) for piece in ROLE_OF_PIECE for suffix in (".mid", ".wav")}
    return name in ours


def write_folder(
    prepared: Prepared, folder: Path, pulses: bool = False, overwrite: bool = False
) -> list[str]:
    """Write everything; the folder appears whole or not at all.

    Parameters
    ----------
    prepared : Prepared
    folder : Path
        A new folder (see `evenhand.take.folder.check_folder`).
    pulses : bool
        Whether to write a WAV file per piece.
    overwrite : bool
        Whether a folder that is there is replaced.

    Returns
    -------
    list of str
        The names of the files.

    Raises
    ------
    SettingError
        If the take is too long for WAV files.
    DiskError
        If something can't be written; then nothing is.
    """
    if pulses:
        check_length(prepared.frames, prepared.settings.rate)
    names = [ALL, *(file_name(piece, ".mid") for piece in prepared.pieces)]
    if pulses:
        names += [file_name(piece, ".wav") for piece in prepared.pieces]
    names += [HITS, REMOVED, REPORT]
    if len({folded(name) for name in names}) < len(names):
        raise DiskError(f"two of the files would be one on some systems: {', '.join(names)}")
    with new_folder(folder, overwrite) as work:
        (work / ALL).write_bytes(prepared.midi())
        for piece in prepared.pieces:
            (work / file_name(piece, ".mid")).write_bytes(prepared.midi(piece))
            if pulses:
                mine = prepared.sheet.hits.piece == piece
                write_pulses(
                    work / file_name(piece, ".wav"),
                    prepared.sample[mine],
                    prepared.score.velocity[mine],
                    prepared.frames,
                    prepared.settings.rate,
                )
        (work / HITS).write_bytes(hits_csv(prepared))
        (work / REMOVED).write_bytes(removed_csv(prepared))
        (work / REPORT).write_bytes(report(prepared, names))
    return names
