"""Assembling the listening page: one HTML file, no network."""

from importlib.resources import files
from typing import Any

from evenhand.web import assemble

#: The scripts in the order in which they run; each defines one name.
SCRIPTS = (
    "data.js",
    "sound.js",
    "recipe.js",
    "marks.js",
    "chart.js",
    "pace.js",
    "lists.js",
    "main.js",
)


def build_page(data: dict[str, Any]) -> bytes:
    """Make the HTML file of the listening page.

    Parameters
    ----------
    data : dict
        From `evenhand.listen.data`.
    """
    return assemble(_file("template.html"), "", map(_file, SCRIPTS), data)


def _file(name: str) -> str:
    return files(__package__).joinpath("page", name).read_text(encoding="utf-8")
