"""The change log: what happened to every hit, as CSV (docs/files.md describes each column)."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evenhand.outcome import Changes


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
    return changes.to_csv()
