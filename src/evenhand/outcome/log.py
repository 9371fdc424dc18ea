"""The change log as CSV: which columns it has, and how each is written (docs/files.md)."""

from collections.abc import Callable, Mapping

import numpy as np

from evenhand.columns import Column, Ints
from evenhand.outcome.letters import (
    Letters,
    join,
    thousandths,
    up_to_thousandths,
    whole,
    words,
)

#: How many rows are made at a time: the letters of all of them would take ten times the result.
_AT_A_TIME = 4096


def _if_any(numbers: Ints) -> Letters:
    """Numbers from 1; 0 is left empty."""
    return whole(numbers, numbers > 0)


#: Every column in its order, and what writes it.
_WRITTEN: dict[str, Callable[[Column], Letters]] = {
    "hit": whole,
    "track": whole,
    "channel": whole,
    "note": whole,
    "velocity": whole,
    "piece": words,
    "role": words,
    "bar": whole,
    "beat": thousandths,
    "tick_before": whole,
    "tick_after": whole,
    "ms_before": thousandths,
    "ms_after": thousandths,
    "shift_ms": thousandths,
    "line_tick": up_to_thousandths,
    "deviation_before_ms": thousandths,
    "deviation_after_ms": thousandths,
    "action": words,
    "reason": words,
    "span": _if_any,
    "limb": words,
    "usual_ms": thousandths,
    "early_ms": thousandths,
    "late_ms": thousandths,
}

#: Columns that are written alike, and are about as long.
_ALIKE = (
    ("hit", "tick_before", "tick_after"),
    ("track", "channel", "note", "velocity", "bar"),
    ("ms_before", "ms_after"),
    ("beat", "shift_ms", "deviation_before_ms", "deviation_after_ms"),
    ("usual_ms", "early_ms", "late_ms"),
)

COLUMNS = ",".join(_WRITTEN)


def log_csv(columns: Mapping[str, Column]) -> bytes:
    """Write columns as the change log.

    Parameters
    ----------
    columns : mapping of str to array
        See `Changes.to_dict`.

    Returns
    -------
    bytes
        UTF-8, one line per hit in file order under a header. No value holds a comma.
    """
    rows = len(columns["hit"])
    parts = [
        join(_letters({name: columns[name][at : at + _AT_A_TIME] for name in _WRITTEN}))
        for at in range(0, rows, _AT_A_TIME)
    ]
    return b"".join([COLUMNS.encode() + b"\n", *parts])


def _letters(columns: Mapping[str, Column]) -> list[Letters]:
    """The letters of some rows, column by column."""
    # What is written alike, and about as long, is written at once.
    letters = {
        name: table
        for names in _ALIKE
        for name, table in zip(
            names, _WRITTEN[names[0]](np.array([columns[name] for name in names])), strict=True
        )
    }
    return [
        letters[name] if name in letters else write(columns[name])
        for name, write in _WRITTEN.items()
    ]
