"""Assembling the page of practice takes: one HTML file, no network."""

from evenhand.jobs.practice.page_data import practice_data
from evenhand.jobs.practice.report import Report
from evenhand.web import one_file


def practice_page(report: Report) -> bytes:
    """Make the HTML file.

    Parameters
    ----------
    report : Report
    """
    return one_file("jobs/practice", practice_data(report))
