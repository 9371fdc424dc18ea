"""The change log: what happened to every hit, as CSV (docs/files.md describes each column)."""

import numpy as np

from evenhand.outcome import Changes
from evenhand.paper.letters import join, thousandths, up_to_thousandths, whole, words

#: How many rows are made at a time.
_AT_A_TIME = 4096

COLUMNS = (
    "hit,track,channel,note,velocity,piece,role,bar,beat,tick_before,tick_after,ms_before,"
    "ms_after,shift_ms,line_tick,deviation_before_ms,deviation_after_ms,action,reason,span,"
    "limb,usual_ms,early_ms,late_ms"
)


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
    # Some thousand rows at a time: the letters of all of them would take ten times the result.
    parts = [
        _rows(changes.only(np.arange(begin, min(begin + _AT_A_TIME, len(changes)))), begin)
        for begin in range(0, len(changes), _AT_A_TIME)
    ]
    return b"".join([COLUMNS.encode() + b"\n", *parts])


def _rows(changes: Changes, before: int) -> bytes:
    """The lines of some hits, `before` others being in front of them."""
    hits = changes.hits
    columns = [
        whole(np.arange(before + 1, before + len(hits) + 1)),
        whole(hits.track + 1),
        whole(hits.channel + 1),
        whole(hits.note),
        whole(hits.velocity),
        words(hits.piece),
        words(hits.role),
        whole(changes.bar),
        thousandths(changes.beat),
        whole(hits.tick),
        whole(changes.tick_after),
        thousandths(hits.ms),
        thousandths(changes.ms_after),
        thousandths(changes.shift_ms),
        up_to_thousandths(changes.line),
        thousandths(changes.deviation_before),
        thousandths(changes.deviation_after),
        words(changes.action),
        words(changes.reason),
        up_to_thousandths(np.where(changes.span > 0, changes.span, np.nan)),
        words(changes.limb),
        thousandths(changes.usual),
        thousandths(changes.early),
        thousandths(changes.late),
    ]
    return join(columns)
