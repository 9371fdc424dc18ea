"""The change log: what happened to every hit, as CSV (docs/files.md describes each column)."""

import numpy as np

from evenhand.carry.changes import Changes
from evenhand.columns import Floats

COLUMNS = (
    "hit,track,channel,note,velocity,piece,role,bar,beat,tick_before,tick_after,ms_before,"
    "ms_after,shift_ms,line_tick,deviation_before_ms,deviation_after_ms,action,reason,span"
)

_ROW = "%d,%d,%d,%d,%d,%s,%s,%d,%.3f,%d,%d,%.3f,%.3f,%.3f,%s,%s,%s,%s"


def change_log(changes: Changes) -> bytes:
    """Write the change log.

    Parameters
    ----------
    changes : Changes

    Returns
    -------
    bytes
        UTF-8, one line per hit in file order under a header. No value holds a comma.
    """
    hits = changes.hits
    columns = (
        np.arange(1, len(hits) + 1).tolist(),
        (hits.track + 1).tolist(),
        (hits.channel + 1).tolist(),
        hits.note.tolist(),
        hits.velocity.tolist(),
        hits.piece.tolist(),
        hits.role.tolist(),
        changes.bar.tolist(),
        changes.beat.tolist(),
        hits.tick.tolist(),
        changes.tick_after.tolist(),
        _thousandths(hits.ms).tolist(),
        _thousandths(changes.ms_after).tolist(),
        _thousandths(changes.shift_ms).tolist(),
        _lines(changes),
        changes.action.tolist(),
        changes.reason.tolist(),
        [number or "" for number in changes.span.tolist()],
    )
    rows = [_ROW % row for row in zip(*columns, strict=True)]
    return "\n".join([COLUMNS, *rows, ""]).encode()


def _thousandths(values: Floats) -> Floats:
    """Three places; adding 0 turns a minus zero into a plain one."""
    return np.asarray(np.round(values, 3) + 0.0)


def _lines(changes: Changes) -> list[str]:
    """Line and both deviations of each hit, empty where it anchors nothing."""
    texts = [",,"] * len(changes)
    lined = np.flatnonzero(~np.isnan(changes.line))
    columns = zip(
        lined.tolist(),
        changes.line[lined].tolist(),
        _thousandths(changes.deviation_before[lined]).tolist(),
        _thousandths(changes.deviation_after[lined]).tolist(),
        strict=True,
    )
    for hit, line, before, after in columns:
        tick = f"{line:.3f}".rstrip("0").rstrip(".")
        texts[hit] = f"{tick},{before:.3f},{after:.3f}"
    return texts
