"""`edits.csv`: one row for each splice."""

import numpy as np

from evenhand.jobs.conform.cut_plan import CutPlan
from evenhand.jobs.conform.doubts import Doubt, place_in_take
from evenhand.paper import csv_bytes
from evenhand.take import Take

COLUMNS = (
    *("splice", "bar", "beat", "seconds", "sample", "change_samples", "change_ms"),
    *("fade_ms", "likeness", "level_db", "files", "doubt"),
)


def edits_csv(plan: CutPlan, take: Take, doubts: tuple[Doubt, ...], files: int) -> bytes:
    """Write the list of splices.

    Parameters
    ----------
    plan : CutPlan
    take : Take
        The take as played.
    doubts : tuple of Doubt
    files : int
        How many files are cut there: all of them.
    """
    rate = plan.size.rate
    kinds = {one.splice: one.kind for one in reversed(doubts)}
    old = np.array([one.at - one.before for one in plan.splices])
    rows = [
        [
            index + 1,
            place.bar,
            f"{place.beat:.3f}",
            f"{one.at / rate:.6f}",
            one.at,
            one.change,
            f"{1000 * one.change / rate:.3f}",
            f"{1000 * one.fade / rate:.3f}",
            f"{one.likeness:.3f}",
            f"{one.level_db:.1f}",
            files,
            kinds.get(index, ""),
        ]
        for index, (one, place) in enumerate(
            zip(plan.splices, place_in_take(plan, take, old / rate), strict=True)
        )
    ]
    return csv_bytes(COLUMNS, rows)
