"""The whole job: open, plan, write."""

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.jobs.conform.account import as_json, page
from evenhand.jobs.conform.apart_csv import apart_csv
from evenhand.jobs.conform.conformed_folder import (
    APART,
    EDITS,
    MARKERS,
    MARKERS_CSV,
    PAGE,
    check_delivery,
    check_names,
    deliver,
)
from evenhand.jobs.conform.cut_plan import ConformSettings, CutPlan, make_plan
from evenhand.jobs.conform.doubts import Doubt, find_doubts, place_in_take
from evenhand.jobs.conform.doubts_page import conform_page
from evenhand.jobs.conform.edits_csv import edits_csv
from evenhand.jobs.conform.markers import marker_files
from evenhand.jobs.conform.microphone import common_size, open_microphones
from evenhand.jobs.conform.moves import Moves
from evenhand.paper import Page
from evenhand.take import Take

#: Threads: reading and most sums let others run.
_THREADS = 4


@dataclass(frozen=True, eq=False)
class Conformed:
    """What came of it.

    Attributes
    ----------
    plan : CutPlan
    doubts : tuple of Doubt
    page : Page
        The report for a terminal.
    told : dict
        The same for machines.
    """

    plan: CutPlan
    doubts: tuple[Doubt, ...]
    page: Page
    told: dict[str, Any]


def conform(
    played: Take,
    moves: Moves,
    paths: Sequence[Path],
    folder: Path | None,
    settings: ConformSettings,
    *,
    markers: bool = False,
    overwrite: bool = False,
    tell: Callable[[str, int, int], object] = lambda *_: None,
) -> Conformed:
    """Move audio as a take was moved.

    Parameters
    ----------
    played : Take
        The take as played.
    moves : Moves
        How far its hits move.
    paths : sequence of Path
        The files of all microphones: one rate, one length. Never written.
    folder : Path, optional
        Where the new files go; without it nothing is written.
    settings : ConformSettings
    markers : bool
        Whether to write what is to be listened to as markers, too.
    overwrite : bool
        Whether a folder that is there is replaced.
    tell : callable
        Told what is done, how much of it, and of how much.

    Raises
    ------
    DiskError, SoundError
        If a file can't be read or written, or the files are not this take's.
    """
    check_names(paths)
    if folder:
        check_delivery(paths, folder, overwrite)
    threads = min(_THREADS, os.cpu_count() or 1)
    with open_microphones(list(paths)) as microphones, ThreadPoolExecutor(threads) as pool:
        frames = common_size(microphones).frames
        plan = make_plan(
            microphones, moves, settings, pool, lambda done: tell("listening", done, frames)
        )
        doubts = find_doubts(plan, played)
        written: list[str] = []
        if folder:
            old = np.array([one.at - one.before for one in plan.splices]) / plan.size.rate
            places = place_in_take(plan, played, old)
            lists = {
                EDITS: edits_csv(plan, played, doubts, len(paths)),
                APART: apart_csv(plan),
                PAGE: conform_page(Path(played.name).name, plan, doubts, places, microphones),
            }
            if markers:
                lists[MARKERS], lists[MARKERS_CSV] = marker_files(played, plan, doubts)
            done = iter(range(1, len(paths) + 1))
            written = deliver(
                microphones,
                plan.splices,
                lists,
                folder,
                overwrite,
                pool,
                lambda: tell("writing", next(done), len(paths)),
            )
        lines = [f"{len(written)} files in {folder}"] if folder else ["nothing (dry run)"]
        return Conformed(
            plan,
            doubts,
            page(played.name, plan, doubts, microphones, lines),
            as_json(plan, doubts, microphones, folder, written),
        )
