"""Assembling the page of practice takes: one HTML file, no network."""

from collections.abc import Mapping

from evenhand.jobs.practice.page_data import practice_data
from evenhand.jobs.practice.report import Report
from evenhand.web import one_file


def practice_page(report: Report, pages: Mapping[int, str] | None = None) -> bytes:
    """Make the HTML file.

    Parameters
    ----------
    report : Report
    pages : mapping of int to str, optional
        The listening page of a take, by its place.
    """
    return one_file("jobs/practice", practice_data(report, pages or {}))
