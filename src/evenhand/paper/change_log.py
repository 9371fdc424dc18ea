"""The change log: what happened to every hit, as CSV (docs/files.md describes each column)."""

import numpy as np

from evenhand.outcome import Changes
from evenhand.paper.letters import join, thousandths, up_to_thousandths, whole, words

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
    hits = changes.hits
    columns = [
        whole(np.arange(1, len(hits) + 1)),
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
    return COLUMNS.encode() + b"\n" + join(columns)
