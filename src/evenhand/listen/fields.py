"""The settings that the page offers: those of the table that can be turned or chosen."""

from typing import Any

from evenhand.recipe import GROUPS, page_fields

#: What makes another file of the take, and so is said when the page is made.
_OF_THE_FILE = ("channel", "resolution")


def fields_data() -> list[dict[str, Any]]:
    """The fields as the page reads them, the usual ones first, then group by group."""
    offered = [
        field
        for field in page_fields()
        if field["kind"] in ("number", "choice") and field["name"] not in _OF_THE_FILE
    ]
    return sorted(offered, key=lambda field: (not field["usual"], GROUPS.index(field["group"])))
