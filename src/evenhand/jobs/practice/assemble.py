"""Assembling the page of practice takes: one HTML file, no network."""

from importlib.resources import files

from evenhand.jobs.practice.page_data import practice_data
from evenhand.jobs.practice.report import Report
from evenhand.web import assemble

#: The scripts in the order in which they run; each defines one name.
SCRIPTS = ("facts.js", "shapes.js", "dots.js", "lists.js", "main.js")


def practice_page(report: Report) -> bytes:
    """Make the HTML file.

    Parameters
    ----------
    report : Report
    """
    scripts = map(_file, SCRIPTS)
    return assemble(_file("template.html"), _file("style.css"), scripts, practice_data(report))


def _file(name: str) -> str:
    return files(__package__).joinpath("page", name).read_text(encoding="utf-8")
