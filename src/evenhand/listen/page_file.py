"""Assembling the listening page: one HTML file, no network."""

from typing import Any

from evenhand.web import one_file


def build_page(data: dict[str, Any]) -> bytes:
    """Make the HTML file of the listening page.

    Parameters
    ----------
    data : dict
        From `evenhand.listen.data`.
    """
    return one_file("listen", data)
